"""The notices of a day: said by the watch's own worker, kept over a restart, and made up for when the record was away."""

from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from watchdog.clock import Clock
from watchdog.core.alarms.table import TABLE
from watchdog.core.detectors import MACHINE
from watchdog.core.finding import Evidence
from watchdog.core.hours import Span, Week
from watchdog.core.machine import Limits as MachineLimits
from watchdog.core.moment import Moment
from watchdog.core.notices.notice import CLOSING, DIGEST, WATCH_ON
from watchdog.core.routing import Recipient, usual
from watchdog.core.snapshot import Snapshot, Source
from watchdog.core.step import Armed, Watch, begin, look
from watchdog.core.timetable import Timetable
from watchdog.service.beside import Wishes
from watchdog.service.day import Day
from watchdog.service.frozen import memories_in
from watchdog.service.keeping import Keeping
from watchdog.service.watching import Ties, Watching

LISBON = ZoneInfo("Europe/Lisbon")
HOURS = Timetable(LISBON, Week((*((Span(780, 1260),) for _ in range(5)), (), ())))
WANTED = frozenset({WATCH_ON, CLOSING, DIGEST})


class HandClock(Clock):
    """Stands still until it is moved."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.stamp = datetime.fromisoformat(text).replace(tzinfo=LISBON).timestamp()
        self._began = self.stamp

    def now(self) -> Moment:
        return Moment(self.stamp - self._began, self.stamp)

    def to(self, text: str) -> None:
        self.stamp = datetime.fromisoformat(text).replace(tzinfo=LISBON).timestamp()


class Desk:
    """The watch's own worker with a real record."""

    def __init__(self, place: Path, clock: HandClock) -> None:
        self.clock = clock
        self.keeping = Keeping(place, clock, lambda sentence: None)
        self.watch = Watch(
            "watch",
            Source.LISTENING,
            MachineLimits(),
            tuple(Armed(detector, detector.Limits()) for detector in MACHINE),
            {detector.NAME: TABLE[detector.NAME] for detector in MACHINE},
            timetable=HOURS,
        )

    def worker(self, stored: str | None = None) -> Watching:
        ties = Ties(self.clock, self.keeping, lambda: None, lambda machine, effects: None)
        wishes = Wishes(usual((Recipient("workshop-lead"),)), notices=WANTED)
        memories = None if stored is None else memories_in(stored)
        return Watching(self.watch, begin(self.watch, self.clock.now()), ties, wishes, wired=False, memories=memories)

    def machines(self) -> Mapping[str, Snapshot]:
        return {"doorway-1": look(self.watch, begin(self.watch, self.clock.now()), self.clock.now())}

    def day(self, own: Watching, sum_up: Callable[[float, float], Awaitable[Evidence]]) -> Day:
        return Day(own, self.clock, LISBON, WANTED, 20 * 60, lambda: HOURS, self.machines, sum_up)

    async def told(self) -> list[tuple[str, str]]:
        parcels = await self.keeping.due(self.clock.stamp)
        return [(parcel.tell.alarm, parcel.person) for parcel in parcels]


@pytest.fixture
async def desk(tmp_path: Path) -> AsyncIterator[Desk]:
    made = Desk(tmp_path / "incidents.db", HandClock("2026-03-02T12:00"))
    await made.keeping.open()
    yield made
    await made.keeping.close()


async def two_jobs(since: float, until: float) -> Evidence:
    assert until - since == 86400
    return {"jobs": 2, "completed": 2}


async def through(desk: Desk, own: Watching, day: Day, *times: str) -> None:
    for time in times:
        desk.clock.to(f"2026-03-02T{time}")
        await day.look()
        await own.finish()


async def test_a_day_is_opened_summed_up_and_closed_once_each(desk: Desk) -> None:
    own = desk.worker()
    day = desk.day(own, two_jobs)
    await through(desk, own, day, "12:59", "13:00", "13:01", "19:59", "20:00", "20:01", "20:50", "20:55", "21:30")
    assert await desk.told() == [(WATCH_ON, "workshop-lead"), (DIGEST, "workshop-lead"), (CLOSING, "workshop-lead")]


async def test_after_a_restart_nothing_of_the_day_is_said_twice(desk: Desk) -> None:
    own = desk.worker()
    await through(desk, own, desk.day(own, two_jobs), "13:00", "20:00")
    stored = await desk.keeping.use(lambda record: record.world("watch"))
    assert stored is not None
    again = desk.worker(stored[0])
    await through(desk, again, desk.day(again, two_jobs), "20:05", "20:06")
    assert len(await desk.told()) == 2


async def test_a_digest_whose_record_was_away_is_made_up_for(desk: Desk) -> None:
    tries: list[float] = []

    async def away_once(since: float, until: float) -> Evidence:
        tries.append(until)
        if len(tries) == 1:
            raise OSError("the disk is away")
        return {"jobs": 0}

    own = desk.worker()
    day = desk.day(own, away_once)
    await through(desk, own, day, "20:00")
    assert DIGEST not in dict(await desk.told())
    await through(desk, own, day, "20:01")
    assert DIGEST in dict(await desk.told())
