"""A made-up term in a real record, exports of it, and single rows for sums by hand."""

import csv
import importlib.util
import json
import random
import shutil
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple
from zoneinfo import ZoneInfo

import pytest

from watchdog.core.effects import AlarmChanged, Effect, JobChanged, Noted, Priority, Tell, TellKind, Transition
from watchdog.core.hours import Span, Week
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.export import TABLES
from watchdog.record.labels import Words
from watchdog.record.minutes import Minute, Spread
from watchdog.record.parcels import Attempt, Outcome
from watchdog.record.reader import Reader
from watchdog.record.rows import JobRow
from watchdog.record.store import Record
from watchdog.record.surroundings import Excerpt
from watchdog.record.term_rows import LabelNow, OccurrenceRow, Result, Subject, Usefulness
from watchdog.review.rows import House, plastic

if TYPE_CHECKING:
    from tests.page.conftest import Browser

DAY = 86_400.0
BEGIN = 1_772_409_600.0  # 2026-03-02T00:00Z, a Monday, and midnight in Lisbon
WEEKS = 14
PEOPLE = ("workshop-lead", "duty-warden", "evening-tutor")
PLANTED = ("Filomena Planted", "filomena-planted", "PLANTED~1.GCO", "planted remark")
"""what must never show in a review: a name as cause, as origin, of a file, in a note"""
CAUSES = {"feed-tangle": "material", "surface-worn": "machine", "nozzle-jam": "machine", "overhang": "design"}
LISBON = ZoneInfo("Europe/Lisbon")
OPEN = Week((*((Span(13 * 60, 21 * 60),),) * 4, (Span(600, 960),), (Span(600, 780),), ()))


@pytest.fixture(scope="session")
def house() -> House:
    return House(LISBON, OPEN, 21.0, 6.5, {"doorway-1": plastic("PLA"), "loft-1": plastic("PETG")}, CAUSES)


class Term(NamedTuple):
    """A record of a whole term."""

    record: Path
    since: float
    until: float


@pytest.fixture(scope="session")
def term(tmp_path_factory: pytest.TempPathFactory) -> Term:
    """Some three hundred jobs of two machines, in the second half of which one fails more often."""
    path = tmp_path_factory.mktemp("term") / "incidents.db"
    with Record.open(path, Moment(0.0, BEGIN), keep_names=True) as record:
        _Writer(record, 11).write()
    return Term(path, BEGIN, BEGIN + WEEKS * 7 * DAY - 3600)  # summer time has begun meanwhile


class _Writer:
    """Writes what a watch would have written, from the first day to the last."""

    def __init__(self, record: Record, seed: int) -> None:
        self._record = record
        self._random = random.Random(seed)
        self._numbers = {"doorway-1": 0, "loft-1": 0}
        self._occurrences = 0
        self._failed = 0

    def write(self) -> None:
        record = self._record
        record.new_sheet("doorway-1", at=BEGIN, by=PEOPLE[0])
        for day in range(WEEKS * 7):
            if day % 7 >= 5:
                continue
            noon = BEGIN + day * DAY + 13 * 3600
            for nth in range(self._random.choice((2, 3, 4))):
                self._job("doorway-1", noon + nth * 7200, day)
            if day % 3 == 0:
                self._job("loft-1", noon + 1000, day)
            if day % 2 == 0:
                self._alarm("doorway-1", noon + 6600, day)
            if day % 9 == 4:
                self._sheet(day)
            if day % 14 == 3:
                self._blind("loft-1", noon)
        self._running("doorway-1", BEGIN + WEEKS * 7 * DAY - 3 * 3600 - 1800)

    def _moment(self, stamp: float) -> Moment:
        return Moment(stamp - BEGIN, stamp)

    def _job(self, machine: str, start: float, day: int) -> None:
        self._numbers[machine] += 1
        number = self._numbers[machine]
        planned = self._random.choice((1320.0, 2280.0, 3300.0, 4320.0))
        active = planned * self._random.lognormvariate(0.0, 0.06)
        lost = self._random.random() < (0.02 if day < 49 else 0.12)
        ending = self._random.choice(("abandoned", "completed", "halted")) if lost else "completed"
        if ending != "completed":
            active *= self._random.random()
        end = start + active + 120
        known = self._random.random() > 0.03
        begun = JobChanged(self._moment(start), "started", number, "PLANTED~1.GCO", 1000 + number, "card", 0.0)
        event = "completed" if ending == "completed" else "abandoned"
        over = JobChanged(self._moment(end), event, number, "PLANTED~1.GCO", None, "card", end - start)
        summary = JobSummary(
            self._moment(end), number, "card", start, ending, end - start, active if known else None, 120.0, 180.0,
            planned=planned, planned_low=0.9 * planned, planned_high=1.1 * planned, planned_by="plan",
            material="PLA", filament_mm=4000.0, filament_g=12.3 if known else None,
        )  # fmt: skip
        first = int(start // 60)
        minutes = tuple(
            Minute(minute, Spread(204.0, 206.3, 1025.5, 5), 205.0)
            for minute in range(first, first + int(active // 60), 7)
        )
        around = Excerpt(minutes=minutes)
        self._record.commit(Batch(machine, self._moment(end), (begun, over), (), None, around, (summary,)))
        job = self._record.job_id(machine, number)
        assert job is not None
        if self._random.random() < 0.85:
            self._label_job(job, lost, end)

    def _label_job(self, job: int, lost: bool, end: float) -> None:
        said = Result.FAILED if lost else Result.GOOD
        if self._random.random() < 0.03:
            said = Result.UNKNOWN
        words = Words(said, note="planted remark")
        if said is Result.FAILED and self._random.random() < 0.9:
            self._failed += 1
            cause = "Filomena Planted" if self._failed == 2 else self._random.choice((*CAUSES, "surface-worn"))
            origin = self._random.choice((CAUSES.get(cause, "machine"), None, "filomena-planted"))
            words = words._replace(cause=cause, origin=origin)
        if self._random.random() < 0.1:  # said, and corrected
            wrong = Words(Result.UNKNOWN, cause="overhang")
            self._record.label(Subject.JOB, job, wrong, at=end + 60, by="Filomena Planted", how="command")
        self._record.label(Subject.JOB, job, words, at=end + 600, by="Filomena Planted", how="command")

    def _alarm(self, machine: str, at: float, day: int) -> None:
        self._occurrences += 1
        nth, moment = self._occurrences, self._moment(at)
        name, priority = self._random.choice(
            (
                ("hot-idle", Priority.HIGH),
                ("job-late", Priority.LOW),
                ("job-stalled", Priority.HIGH),
                ("silent", Priority.LOW),
            )
        )
        facts = {"nozzle": 204.5, "dose_min": 11.2} if name == "hot-idle" else {"of": nth}
        tell = Tell(moment, TellKind.ALARM, name, nth, priority, moment, 1, facts, 300.0)
        orders = tuple(Order(tell, person) for person in self._random.sample(PEOPLE, 1 + nth % 2))
        hot = tuple(
            Minute(int(at // 60) + minute, Spread(200.0, 204.5, 404.5, 2), 205.0)
            for minute in range(self._random.randrange(4, 12))
        )
        raised: tuple[Effect, ...] = (AlarmChanged(moment, name, nth, Transition.RAISED, priority, facts), tell)
        self._record.commit(Batch(machine, moment, raised, orders, None, Excerpt(minutes=hot)))
        for parcel in self._record.due(at + 0.5):
            took = at + self._random.choice((1.5, 2.5, 4.0, 11.0))
            lost = parcel.id % 17 == 0
            attempt = Attempt(parcel.id, "phone", took, Outcome.DELIVERED, "") if not lost else None
            self._record.log_attempts(
                [attempt] if attempt else [], {}, [] if lost else [parcel.id], {parcel.id: "gone"} if lost else None
            )
        later = self._moment(at + self._random.choice((60.0, 240.0, 480.0, 1500.0)))
        answered = AlarmChanged(later, name, nth, Transition.ACKNOWLEDGED, priority, {}, PEOPLE[0], "link")
        returned = self._moment(later.stamp + 30)
        over = [
            AlarmChanged(returned, name, nth, transition, priority, {})
            for transition in (Transition.RETURNED, Transition.CLEARED)
        ]
        ended = () if day % 20 == 6 else tuple(over)
        self._record.commit(Batch(machine, returned, (answered, *ended)))
        if self._random.random() < 0.8:
            bad = 0.7 if name == "silent" else 0.2
            useful = (
                self._random.choice((Usefulness.NUISANCE, Usefulness.LATE))
                if self._random.random() < bad
                else Usefulness.USEFUL
            )
            number = self._record.alarm_id(machine, name, nth)
            assert number is not None
            self._record.label(Subject.ALARM, number, Words(usefulness=useful), at=at + 9000, by=PEOPLE[0], how="page")

    def _sheet(self, day: int) -> None:
        why = self._random.choice(("worn", "torn", "other-material"))
        self._record.new_sheet("doorway-1", at=BEGIN + day * DAY, by=PEOPLE[0], why=why, note="planted remark")

    def _blind(self, machine: str, at: float) -> None:
        self._record.commit(Batch(machine, self._moment(at), (Noted(self._moment(at), "blind", {"seconds": 2000.0}),)))

    def _running(self, machine: str, at: float) -> None:
        number = self._numbers[machine] + 1
        begun = JobChanged(self._moment(at), "started", number, None, None, "card", 0.0)
        self._record.commit(Batch(machine, self._moment(at), (begun,)))


@pytest.fixture(scope="session")
def write_export() -> Callable[[Path, Path, str], None]:
    """Writes every table of a record into a folder, as 'csv' or 'jsonl'."""

    def write(record: Path, folder: Path, form: str) -> None:
        folder.mkdir()
        with Reader.read(record) as reader, reader.one_moment():
            for table in TABLES:
                rows = list(reader.export_rows(table))
                with (folder / f"{table}.{form}").open("w", encoding="utf-8", newline="") as file:
                    if form == "jsonl":
                        file.writelines(json.dumps(row) + "\n" for row in rows)
                    elif rows:
                        writer = csv.DictWriter(file, list(rows[0]))
                        writer.writeheader()
                        writer.writerows(rows)

    return write


@pytest.fixture(scope="session")
def job() -> Callable[..., JobRow]:
    """One job, good, of an hour, a day after the one before, but for what is said."""

    def make(nth: int = 0, outcome: Result | None = Result.GOOD, **changes: Any) -> JobRow:
        said = {key: changes.pop(key, None) for key in ("cause", "origin")}
        start = BEGIN + nth * DAY + 13 * 3600
        row = JobRow(
            "doorway-1", nth, None, None, "card", start, start + 3600, "completed", None, 3600.0, 0, nth + 1, None, None,
            3600.0, 0.0, 180.0, 3600.0, 3000.0, 4000.0, "plan", "PLA", 4000.0, 10.0, None, None, 0.0,
            LabelNow(outcome, said["cause"], said["origin"], None, None, None),
        )  # fmt: skip
        return row._replace(**changes)

    return make


@pytest.fixture(scope="session")
def alarm() -> Callable[..., OccurrenceRow]:
    """One alarm, told after 2 s, acknowledged after 100 s and over after 200 s, but for what is said."""

    def make(at: float, name: str = "job-stalled", useful: Usefulness | None = None, **changes: Any) -> OccurrenceRow:
        label = LabelNow(None, None, None, None, None, useful)
        row = OccurrenceRow(
            1, 1, "doorway-1", name, 1, Priority.HIGH, {}, at, at + 100, "workshop-lead", "link", at + 200, at + 200, None,
            1, at + 2, label,
        )  # fmt: skip
        return row._replace(**changes)

    return make


@pytest.fixture
def empty_record(tmp_path: Path) -> Path:
    """A record in which nothing has happened yet."""
    path = tmp_path / "empty.db"
    Record.open(path, Moment(0.0, BEGIN)).close()
    return path


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> "Iterator[Callable[[int, int], Browser]]":
    """Opens a browser with a window of so many px, as the page's tests lead it; skipped where there is none."""
    lead = _beside("page")
    if shutil.which(lead.CHROMIUM) is None:
        pytest.skip("there is no /usr/bin/chromium here; `bash tests/run` as root installs it")
    opened: list[Browser] = []

    def start(width: int, height: int = 900) -> "Browser":
        one: Browser = lead.Browser(tmp_path_factory.mktemp("browser"), width, height)
        opened.append(one)
        return one

    yield start
    for one in opened:
        one.close()


def _beside(room: str) -> Any:
    """The helpers of another room's tests."""
    place = Path(__file__).parents[1] / room / "conftest.py"
    spec = importlib.util.spec_from_file_location(f"helpers_of_{room}", place)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module  # its dataclasses look themselves up there
    spec.loader.exec_module(module)
    return module
