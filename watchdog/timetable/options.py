"""What this room is told: which calendars there are, where they lie and what they mean."""

from dataclasses import dataclass, field
from pathlib import Path
from zoneinfo import ZoneInfo

from watchdog.core.hours import Week
from watchdog.core.timetable import Kind

DAY = 86400.0  # s


@dataclass(frozen=True, slots=True)
class Meaning:
    """What every event of one calendar stands for."""

    kind: Kind
    person: str | None = None
    """duty only: who it is, whatever an event is called; None: the events' names tell"""
    words: tuple[tuple[str, str], ...] = ()
    """duty only: what an event may be called, and the name of the person in the settings that is meant by it"""
    names: tuple[str, ...] = ()
    """duty only: people of the settings, known by their own names as well; in these '-' and '_' match a space"""


@dataclass(frozen=True, slots=True)
class Source:
    """Where one calendar comes from: exactly one of `file` and `address`."""

    file: Path | None = None
    address: str | None = field(default=None, repr=False)
    """http, https or webcal (which is fetched by https); a secret: whoever has it can read the calendar"""
    proxy: str | None = field(default=None, repr=False)
    """address of an HTTP proxy; None: as the environment says (http_proxy, https_proxy, no_proxy)"""
    root: Path | None = None
    """PEM file of certificates that are trusted beside the system's"""


@dataclass(frozen=True, slots=True)
class Calendar:
    """One calendar of the school."""

    name: str
    source: Source
    meaning: Meaning
    every: float = 3600.0
    """s between two fetches of an address; a file is looked at more often and read when it has changed"""


@dataclass(frozen=True, slots=True)
class Options:
    """Everything that makes up the timetable."""

    zone: ZoneInfo
    """of all-day events, of times that name no zone, and of the week"""
    week: Week | None = None
    calendars: tuple[Calendar, ...] = ()
    copies: Path | None = None
    """folder of the last good copies, made with mode 0700; None: none are kept"""
    keep: bool = True
    """false: copies are read and never written"""
    ahead: int = 60
    """days that are known in advance: a term's rhythm shows, and an hour's work is enough; project's choice"""
    stale_after: float = 7 * DAY
    """s that a copy serves while its source is away: a timetable seldom changes within a week; project's choice"""
    limit: float = 60.0
    """s for fetching and reading one calendar, everything included; 5 MB take about 10 s here; project's choice"""
