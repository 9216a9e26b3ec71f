"""`check` and the school's calendars: a job's end is held against the hours as they are on that very day."""

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from watchdog.simulator.jobs import SAMPLES

CALENDARS = Path(__file__).parents[1] / "timetable" / "calendars"
HOURS = 'zone = "Europe/Lisbon"\n[hours]\nmon = ["13:00-21:00"]\ntue = ["13:00-21:00"]\n'
Command = Callable[..., object]


@pytest.fixture
def checked(emberward: Command, config: Callable[[str], Path], tmp_path: Path) -> Callable[..., tuple[int, str, str]]:
    """Checks the ring; returns exit status and both outputs."""
    ring = tmp_path / "thumb-ring.gcode"
    ring.write_bytes(SAMPLES["thumb-ring.gcode"]())

    def run(calendars: str, start: str, *words: str) -> tuple[int, str, str]:
        done = emberward("check", ring, "--start", start, *words, "--config", config(HOURS + calendars))
        return done.returncode, done.stdout, done.stderr  # type: ignore[attr-defined]

    return run


def table(name: str, means: str, file: Path) -> str:
    return f'[calendars.{name}]\nmeans = "{means}"\nfile = "{file}"\n'


HOLIDAYS = table("holidays", "holidays", CALENDARS / "holidays.ics")


def test_on_a_holiday_nobody_is_there(checked: Callable[..., tuple[int, str, str]]) -> None:
    """The week says Monday, the calendar says that it is the fifth of October."""
    assert checked(HOLIDAYS, "2026-10-12T14:00")[0] == 0
    code, said, _ = checked(HOLIDAYS, "2026-10-05T14:00")
    assert code == 1
    assert "nobody is there at its start" in said


def test_an_open_evening_counts(checked: Callable[..., tuple[int, str, str]], tmp_path: Path) -> None:
    file = tmp_path / "open.ics"
    lines = [
        "BEGIN:VCALENDAR",
        "BEGIN:VEVENT",
        "UID:1",
        "DTSTART:20261004T100000",
        "DTEND:20261004T160000",
        "END:VEVENT",
    ]
    file.write_text("\n".join([*lines, "END:VCALENDAR"]))
    code, said, _ = checked(table("open", "supervised", file), "2026-10-04T14:00")
    assert code == 0
    assert "supervised until Sun 16:00" in said


def test_a_calendar_that_cannot_be_read_is_said_in_clear_words(
    checked: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    """To say 'supervised' then would be a promise that nobody can keep."""
    (tmp_path / "holidays.ics").write_text("BEGIN:VCALENDAR\nBEGIN:VEVENT\n")
    text = table("holidays", "holidays", tmp_path / "holidays.ics")
    code, said, err = checked(text, "2026-10-12T14:00")
    assert (code, err) == (1, "")
    assert "hours      not known, so ask who will be there until its end:" in said
    assert "calendars.holidays: line 2: it ends in the middle: VEVENT is not closed" in said
    assert "nothing was found that speaks against" not in said
    told = json.loads(checked(text, "2026-10-12T14:00", "--json")[1])
    assert told["outlasts_supervision"] is None
    assert told["hours_unknown"].startswith("calendars.holidays: ")


def test_lessons_and_duties_say_nothing_of_the_hours(
    checked: Callable[..., tuple[int, str, str]], tmp_path: Path
) -> None:
    code, said, _ = checked(table("lessons", "lessons", tmp_path / "nowhere.ics"), "2026-10-12T14:00")
    assert code == 0
    assert "supervised until Mon 21:00" in said
