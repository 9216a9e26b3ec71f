"""The whole way: from files and a server through the child process to one timetable, on a clock that the test moves."""

import asyncio
import json
import os
import stat
import sys
import threading
from collections.abc import Callable, Iterator
from datetime import datetime
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from watchdog.clock import Clock
from watchdog.core.hours import Week, day_of, read_span
from watchdog.core.moment import Moment
from watchdog.core.timetable import Kind, Period, Timetable, presence
from watchdog.timetable.asking import ask
from watchdog.timetable.errand import Answer, Errand
from watchdog.timetable.kept import AGAIN
from watchdog.timetable.options import DAY, Calendar, Meaning, Options, Source
from watchdog.timetable.school import LOOK, School

LISBON = ZoneInfo("Europe/Lisbon")
WEEK = Week((day_of([read_span("13:00-21:00")]),) * 4 + ((),) * 3)
MONDAY = datetime(2026, 3, 2, 12, tzinfo=LISBON).timestamp()
Writes = Callable[..., bytes]
LESSON = ["DTSTART:20260302T130000", "DURATION:PT90M", "SUMMARY:Lesson"]
LATER = ["DTSTART:20260302T145000", "DURATION:PT90M", "SUMMARY:Lesson"]


class Hand(Clock):
    """Stands still until the test moves it; who sleeps wakes when its time has come."""

    def __init__(self, stamp: float) -> None:
        super().__init__()
        self._at = stamp
        self._moved = asyncio.Condition()

    def now(self) -> Moment:
        return Moment(self._at - MONDAY + 1000, self._at)

    async def sleep(self, seconds: float) -> None:
        until = self._at + seconds
        async with self._moved:
            await self._moved.wait_for(lambda: self._at >= until)

    async def move(self, seconds: float) -> None:
        async with self._moved:
            self._at += seconds
            self._moved.notify_all()


class Watched:
    """A school with all that it told, and how often it asked."""

    def __init__(self, options: Options) -> None:
        self.clock = Hand(MONDAY)
        self.told: list[Timetable] = []
        self.reported: list[tuple[str, ...]] = []
        self.asked: list[str] = []
        self.school = School(options, self.clock, self.told.append, self.reported.append, self.ask)

    async def ask(self, errand: Errand) -> Answer:
        self.asked.append(errand.calendar.name)
        return await ask(errand)

    async def look(self) -> Timetable:
        await self.school.look()
        return self.school.timetable


def options(tmp_path: Path, *calendars: Calendar) -> Options:
    return Options(LISBON, WEEK, calendars, tmp_path / "copies")


def lessons(file: Path) -> Calendar:
    return Calendar("lessons", Source(file), Meaning(Kind.LESSON))


def span(event: list[str]) -> Period:
    start = datetime.strptime(event[0].partition(":")[2], "%Y%m%dT%H%M%S").replace(tzinfo=LISBON).timestamp()
    return Period(start, start + 5400, Kind.LESSON)


async def test_without_calendars_the_week_alone_is_told() -> None:
    told: list[Timetable] = []
    await School(Options(LISBON, WEEK), Clock(), told.append, lambda troubles: None).run()
    assert told == [Timetable(LISBON, WEEK)]


async def test_before_anything_was_read_nothing_is_promised(tmp_path: Path) -> None:
    watched = Watched(options(tmp_path, lessons(tmp_path / "lessons.ics")))
    found = presence(watched.school.timetable, MONDAY + DAY * 5)
    assert found.supervised
    assert found.trouble == "calendars.lessons: it has not been read yet"


async def test_files_become_one_timetable(calendar_of: Writes, tmp_path: Path) -> None:
    (tmp_path / "lessons.ics").write_bytes(calendar_of(LESSON))
    (tmp_path / "duty.ics").write_bytes(
        calendar_of(["DTSTART:20260303T130000", "DURATION:PT8H", "SUMMARY:evening tutor"])
    )
    (tmp_path / "holidays.ics").write_bytes(calendar_of(["DTSTART;VALUE=DATE:20260304"]))
    duty = Calendar("duty", Source(tmp_path / "duty.ics"), Meaning(Kind.DUTY, names=("evening-tutor",)))
    holidays = Calendar("holidays", Source(tmp_path / "holidays.ics"), Meaning(Kind.HOLIDAY))
    watched = Watched(options(tmp_path, lessons(tmp_path / "lessons.ics"), duty, holidays))
    made = await watched.look()
    assert watched.told == [made]
    assert [period.kind for period in made.periods] == [Kind.LESSON, Kind.DUTY, Kind.HOLIDAY]
    assert made.known_until == datetime(2026, 5, 2, tzinfo=LISBON).timestamp()
    assert watched.school.facts()["known_until"] == "2026-05-01T23:00:00.000Z"
    assert watched.reported == []
    assert presence(made, MONDAY + 3600).lesson
    assert presence(made, MONDAY + DAY + 7200).on_duty == ("evening-tutor",)
    assert not presence(made, MONDAY + 2 * DAY + 7200).supervised


async def test_run_tells_by_itself_and_again_when_a_file_has_changed(calendar_of: Writes, tmp_path: Path) -> None:
    file = tmp_path / "lessons.ics"
    file.write_bytes(calendar_of(LESSON))
    watched = Watched(options(tmp_path, lessons(file)))
    heard: asyncio.Queue[Timetable] = asyncio.Queue()
    watched.school._tell = heard.put_nowait
    async with asyncio.TaskGroup() as group:
        running = group.create_task(watched.school.run())
        first = await heard.get()
        file.write_bytes(calendar_of(LESSON, LATER))
        while heard.empty():
            await watched.clock.move(LOOK)
            await asyncio.sleep(0.005)
        second = await heard.get()
        running.cancel()
    assert (first.periods, second.periods) == ((span(LESSON),), (span(LESSON), span(LATER)))
    assert watched.asked == ["lessons", "lessons"]


async def test_a_file_that_stands_still_is_read_once_a_day(calendar_of: Writes, tmp_path: Path) -> None:
    file = tmp_path / "lessons.ics"
    file.write_bytes(calendar_of(LESSON))
    watched = Watched(options(tmp_path, lessons(file)))
    for _ in range(10):
        await watched.look()
        await watched.clock.move(3600.0)
    assert len(watched.asked) == 1
    await watched.clock.move(4 * 3600.0)  # past midnight
    made = await watched.look()
    assert len(watched.asked) == 2
    assert made.known_until == datetime(2026, 5, 3, tzinfo=LISBON).timestamp()
    assert made.periods == (span(LESSON),)


async def test_a_file_that_is_being_written_is_left_until_it_stands_still(calendar_of: Writes, tmp_path: Path) -> None:
    """Half a calendar would be a fault, and somebody would be told of it."""
    file, whole = tmp_path / "lessons.ics", calendar_of(LESSON, LATER)
    file.write_bytes(calendar_of(LESSON))
    watched = Watched(options(tmp_path, lessons(file)))
    await watched.look()
    for size in (50, 120, len(whole)):
        file.write_bytes(whole[:size])
        await watched.look()
    assert len(watched.asked) == 1
    made = await watched.look()
    assert len(watched.asked) == 2
    assert made.periods == (span(LESSON), span(LATER))
    assert watched.reported == []


async def test_an_unreadable_calendar_counts_as_on_duty_and_is_reported(calendar_of: Writes, tmp_path: Path) -> None:
    """Its last good copy still tells of lessons; the hours count as supervised, and somebody is told why."""
    file = tmp_path / "lessons.ics"
    file.write_bytes(calendar_of(LESSON))
    watched = Watched(options(tmp_path, lessons(file)))
    await watched.look()
    file.write_bytes(b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nDTSTART:soon\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n")
    await watched.look()
    made = await watched.look()
    assert made.periods == (span(LESSON),)
    assert presence(made, MONDAY + 5 * DAY).supervised
    ((words,),) = watched.reported
    assert words.startswith("calendars.lessons: line 3: DTSTART cannot be understood. Mend or leave out that event")
    assert words.endswith("Used meanwhile: the copy of Mon 02 Mar 2026 12:00, 0 h old")
    assert made.trouble == words
    afresh = Watched(options(tmp_path, lessons(file)))  # a restart knows it from the copy
    assert (await afresh.look()).periods == (span(LESSON),)
    file.write_bytes(calendar_of(LATER))
    await watched.look()
    made = await watched.look()
    assert watched.reported[-1] == ()
    assert (made.periods, made.trouble) == ((span(LATER),), None)


async def test_a_file_that_is_away_for_long_is_a_trouble(calendar_of: Writes, tmp_path: Path) -> None:
    """A share that is down for an hour is nobody's business; one that is down for a week is."""
    file = tmp_path / "lessons.ics"
    file.write_bytes(calendar_of(LESSON))
    watched = Watched(options(tmp_path, lessons(file)))
    await watched.look()
    file.unlink()
    await watched.look()
    made = await watched.look()
    assert (made.trouble, made.periods) == (None, (span(LESSON),))
    (remark,) = watched.school.remarks
    assert "lessons.ics cannot be read: No such file or directory" in remark
    assert "Used meanwhile: the copy of Mon 02 Mar 2026 12:00, 0 h old" in remark
    await watched.clock.move(8 * DAY)
    made = await watched.look()
    assert made.trouble is not None
    assert "8 days old" in made.trouble
    assert watched.reported == [(made.trouble,)]
    assert watched.school.facts()["troubles"] == [made.trouble]


async def test_copies_are_for_the_service_alone(calendar_of: Writes, tmp_path: Path) -> None:
    file = tmp_path / "lessons.ics"
    file.write_bytes(calendar_of(LESSON))
    await Watched(options(tmp_path, lessons(file))).look()
    (copy,) = (tmp_path / "copies").iterdir()
    assert stat.S_IMODE((tmp_path / "copies").stat().st_mode) == 0o700
    assert stat.S_IMODE(copy.stat().st_mode) == 0o600
    head, _, content = copy.read_bytes().partition(b"\n")
    assert content == file.read_bytes()
    assert json.loads(head)["confirmed"] == MONDAY


async def test_a_copy_of_another_source_or_a_damaged_one_is_not_used(calendar_of: Writes, tmp_path: Path) -> None:
    file = tmp_path / "lessons.ics"
    file.write_bytes(calendar_of(LESSON))
    await Watched(options(tmp_path, lessons(file))).look()
    elsewhere = await Watched(options(tmp_path, lessons(tmp_path / "other.ics"))).look()
    assert elsewhere.periods == ()
    assert elsewhere.trouble is not None
    (copy,) = (tmp_path / "copies").iterdir()
    copy.write_bytes(copy.read_bytes()[:-20])
    file.unlink()
    damaged = await Watched(options(tmp_path, lessons(file))).look()
    assert damaged.periods == ()
    assert damaged.trouble is not None


async def test_duties_that_name_nobody_are_a_remark_with_their_lines(calendar_of: Writes, tmp_path: Path) -> None:
    """Their own words are not repeated: an event's name can hold a person's."""
    file = tmp_path / "duty.ics"
    file.write_bytes(calendar_of(["DTSTART:20260303T130000", "DURATION:PT8H", "SUMMARY:somebody by name"]))
    calendar = Calendar("duty", Source(file), Meaning(Kind.DUTY, names=("evening-tutor",)))
    watched = Watched(options(tmp_path, calendar))
    assert (await watched.look()).trouble is None
    (remark,) = watched.school.remarks
    assert remark.startswith("calendars.duty: 1 duties name nobody of the settings (lines 4)")
    assert "somebody" not in remark


class _Desk(BaseHTTPRequestHandler):
    def do_GET(self) -> None:
        code, body, kind = self.server.says  # type: ignore[attr-defined]
        if code == 200 and self.headers["If-None-Match"] == '"1"':
            code, body = 304, b""
        self.server.codes.append(code)  # type: ignore[attr-defined]
        self.send_response(code)
        self.send_header("Content-Type", kind)
        self.send_header("ETag", '"1"')
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: object) -> None:
        """Nothing."""


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Iterator[HTTPServer]:
    for name in os.environ:
        if name.lower().endswith("_proxy"):
            monkeypatch.delenv(name)
    started = HTTPServer(("127.0.0.1", 0), _Desk)
    started.codes = []  # type: ignore[attr-defined]
    thread = threading.Thread(target=started.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    yield started
    started.shutdown()
    thread.join()
    started.server_close()


async def test_an_address_is_asked_now_and_then_and_a_sign_in_page_does_no_harm(
    calendar_of: Writes, tmp_path: Path, server: HTTPServer
) -> None:
    """The network's sign-in page comes with 200 in the calendar's place, for an hour: the lessons stay as they were."""
    server.says = (200, calendar_of(LESSON), "text/calendar")  # type: ignore[attr-defined]
    source = Source(address=f"http://localhost:{server.server_port}/SECRET-TOKEN/lessons.ics")
    watched = Watched(options(tmp_path, Calendar("lessons", source, Meaning(Kind.LESSON), every=3600.0)))
    assert (await watched.look()).periods == (span(LESSON),)
    await watched.clock.move(1800.0)
    await watched.look()
    await watched.clock.move(1800.0)
    await watched.look()
    assert server.codes == [200, 304]  # type: ignore[attr-defined]
    server.says = (203, b"<html>Sign in</html>", "text/html")  # type: ignore[attr-defined]
    await watched.clock.move(3600.0)
    made = await watched.look()
    assert (made.periods, made.trouble) == ((span(LESSON),), None)
    (remark,) = watched.school.remarks
    assert "localhost answered with a web page instead of a calendar" in remark
    assert "copy of Mon 02 Mar 2026 13:00, 1 h old" in remark
    server.says = (200, b"", "text/calendar")  # type: ignore[attr-defined]
    await watched.clock.move(AGAIN)
    await watched.look()
    assert server.codes == [200, 304, 203, 304]  # type: ignore[attr-defined]
    assert watched.school.remarks == ()
    everything = [repr(watched.school.facts()), repr(watched.school._options), *map(repr, watched.told), remark]
    assert not any("SECRET" in text for text in everything)
    assert len(watched.told) == 1


async def test_reading_once_looks_around_another_day(calendar_of: Writes, tmp_path: Path) -> None:
    file = tmp_path / "lessons.ics"
    file.write_bytes(calendar_of(["DTSTART:20271102T130000", "DURATION:PT90M"]))
    school = Watched(options(tmp_path, lessons(file))).school
    made = await school.read_once(datetime(2027, 11, 1, 12, tzinfo=LISBON).timestamp())
    assert len(made.periods) == 1


async def test_the_service_never_loads_the_calendar_libraries(calendar_of: Writes, tmp_path: Path) -> None:
    """They cost 20 MB and hold the interpreter: only the child may have them."""
    file = tmp_path / "lessons.ics"
    file.write_bytes(calendar_of(LESSON))
    code = (
        "import asyncio, sys; from pathlib import Path; from zoneinfo import ZoneInfo\n"
        "from watchdog.clock import Clock; from watchdog.core.timetable import Kind\n"
        "from watchdog.timetable.options import *; from watchdog.timetable.school import School\n"
        f"calendar = Calendar('lessons', Source(Path({str(file)!r})), Meaning(Kind.LESSON))\n"
        "school = School(Options(ZoneInfo('Europe/Lisbon'), None, (calendar,)), Clock(), print, print)\n"
        f"made = asyncio.run(school.read_once({MONDAY}))\n"
        "loaded = {'icalendar', 'recurring_ical_events', 'dateutil'} & set(sys.modules)\n"
        "print(len(made.periods), made.trouble, *sorted(loaded))\n"
    )
    child = await asyncio.create_subprocess_exec(sys.executable, "-c", code, stdout=asyncio.subprocess.PIPE)
    said, _ = await child.communicate()
    assert said.decode().strip() == "1 None"
