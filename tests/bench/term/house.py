"""Tidewater Evening College (made up) in its autumn term: the parts that are made, and the folder in which the watch finds all
of it.

Everything lies in one folder, so that the commands can be used on it afterwards:

    emberward review --config DIR/emberward.toml
"""

import re
from bisect import bisect_right
from datetime import date, datetime, timedelta
from functools import lru_cache
from math import inf
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

from tests.bench.term import papers
from watchdog.core.hours import Week
from watchdog.core.moment import Moment
from watchdog.core.outlook import JobFile
from watchdog.core.timetable import Period, Timetable
from watchdog.jobfile.commands import commands_of
from watchdog.jobfile.planning import plan_file
from watchdog.settings import Settings
from watchdog.settings.calendar_sources import calendars_of
from watchdog.settings.fill import motion_of
from watchdog.settings.load import load
from watchdog.simulator.jobs import make_job
from watchdog.timetable import reading

ZONE = ZoneInfo("Europe/Lisbon")
FIRST = date(2026, 9, 14)
"""a Monday; summer time ends on 25 October"""
LEAD, WARDEN, TUTOR, CARETAKER = "workshop-lead", "duty-warden", "evening-tutor", "caretaker"
DOORWAY, LOFT = "doorway-1", "loft-1"
HOLIDAYS = (date(2026, 10, 5), date(2026, 12, 1), date(2026, 12, 8))
"""public holidays of the term"""
_E = re.compile(r" E(-?[\d.]+)")
STEP = 2.88
"""mm of filament a step of the wheel in loft-1's filament path"""


class Kind(NamedTuple):
    """A part that is made again and again."""

    name: str
    content: bytes
    share: float
    """of the jobs, before what fits into the day is asked"""
    layers: int


def _kind(name: str, share: float, layers: int, width: float, depth: float, spacing: float, speed: int = 2400) -> Kind:
    content = make_job(layers=layers, width=width, depth=depth, spacing=spacing, speed=speed)
    return Kind(f"{name}.gcode", content, share, layers)


@lru_cache(maxsize=1)
def kinds() -> dict[str, Kind]:
    """The workshop's parts by file name. Their durations: 38 min, 1 h 12, 55 min, 4 h 40, 2 h 05, 1 h 31, 22 min."""
    made = (
        _kind("cleat-hook", 0.24, 58, 52, 24, 1.2),
        _kind("fairlead-pair", 0.16, 84, 60, 40, 2.0, 2100),
        _kind("rudder-pintle", 0.18, 90, 44, 36, 2.0, 2100),
        _kind("hull-mould-half", 0.05, 123, 120, 56, 2.6, 1500),
        _kind("pattern-letters", 0.09, 73, 96, 60, 2.6, 1800),
        _kind("block-sheave-plate", 0.12, 75, 60, 60, 2.4, 1800),
        _kind("oar-collar", 0.16, 49, 36, 24, 1.5),
    )
    return {kind.name: kind for kind in made}


HULL = "hull-mould-half.gcode"


def layer_share(kind: Kind, layer: int, *, lines: bool) -> float:
    """Share of the file before a layer: of its bytes, or (`lines`) of what a computer sends of it."""
    before, after = kind.content.split(f"; layer {layer}\n".encode())
    if not lines:
        return len(before) / len(kind.content)

    def sent(part: bytes) -> int:
        return sum(1 for line in part.decode().splitlines() if line.partition(";")[0].strip())

    return sent(before) / (sent(before) + sent(after))


def filament(kind: Kind, share: float, *, lines: bool) -> float:
    """mm that the file feeds, forward less back, up to that share of it. Summed up from its own E words."""
    fed = _fed_by(kind.name, lines)
    return fed[min(len(fed) - 1, bisect_right(fed, (share, inf)))][1] if share < 1 else fed[-1][1]


@lru_cache(maxsize=32)
def _fed_by(name: str, lines: bool) -> list[tuple[float, float]]:
    """(share of the file, mm) after each of its orders."""
    content = kinds()[name].content
    done = mm = 0.0
    found = []
    for raw in content.splitlines(keepends=True):
        order = raw.decode().partition(";")[0].strip()
        done += bool(order) if lines else len(raw)
        if (e := _E.search(order)) is not None and order.startswith("G1"):
            mm += float(e[1])
        found.append((done, mm))
    return [(each / done, fed) for each, fed in found]


def stamp(day: date, minutes: float) -> float:
    """A time on the wall, in minutes since midnight, as a stamp."""
    return (datetime(day.year, day.month, day.day, tzinfo=ZONE) + timedelta(minutes=minutes)).timestamp()


def days(weeks: int) -> list[date]:
    """The term's days: whole weeks from Monday on, the last one up to its Friday."""
    return [FIRST + timedelta(days=n) for n in range(7 * weeks - 2)]


class House(NamedTuple):
    """What both machines share."""

    folder: Path
    settings: Settings
    files: dict[str, tuple[JobFile, ...]]
    """planned for each machine"""


def furnish(folder: Path) -> House:
    """Write settings, calendars and job files into `folder`, and read them as the watch does."""
    folder.mkdir(parents=True, exist_ok=True)
    jobs = folder / "jobs"
    jobs.mkdir(exist_ok=True)
    for kind in kinds().values():
        (jobs / kind.name).write_bytes(kind.content)
    for name, text in papers.calendars(FIRST, ZONE.key, HOLIDAYS).items():
        (folder / name).write_text(text, encoding="utf-8", newline="")
    (folder / "emberward.toml").write_text(papers.settings(folder.absolute()), encoding="utf-8")
    return read(folder)


def read(folder: Path) -> House:
    """What `furnish` has written."""
    settings = load(folder / "emberward.toml", addresses="not needed")
    planned = {}
    for name, machine in settings.machines.items():
        files = (folder / "jobs" / kind for kind in kinds())
        limits = motion_of(machine)
        planned[name] = tuple(JobFile(file.name, plan_file(file, limits), commands_of(file)[1]) for file in files)
    return House(folder, settings, planned)


def timetable(settings: Settings, at: float) -> Timetable:
    """Who is there around `at`, by the week and the calendars, nine weeks ahead as in the service."""
    told = calendars_of(settings, None)
    since, until = at - 2 * 86400.0, at + told.ahead * 86400.0
    periods: list[Period] = []
    for calendar in told.calendars:
        assert calendar.source.file is not None  # ours are files
        periods += reading.periods(calendar.source.file.read_bytes(), calendar.meaning, since, until, told.zone)
    assert isinstance(told.week, Week)
    return Timetable(told.zone, told.week, tuple(sorted(periods)), until)


def first_moment() -> Moment:
    """The Monday's midnight."""
    return Moment(0.0, stamp(FIRST, 0))
