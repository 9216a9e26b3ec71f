"""The job register: what each job came to, which sheet it had, when it was not seen, and whose name is kept."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from watchdog.core.effects import Effect, JobChanged, Noted, StateChanged
from watchdog.core.moment import Moment
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.rows import JobRow
from watchdog.record.store import Record


def at(seconds: float) -> Moment:
    return Moment(100.0 + seconds, 1_772_442_000.0 + seconds)


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    with Record.open(tmp_path / "record.db", at(0)) as opened:
        yield opened


def started(seconds: float, number: int = 1, file: str | None = None) -> Batch:
    return Batch("doorway-1", at(seconds), (JobChanged(at(seconds), "started", number, file, 812_345, "card", 0.0),))


SUMMARY = JobSummary(
    at(2_310), 1, "card", at(10).stamp, "completed", 2_300.0, active=2_200.0, held=100.0, heating=180.0, file="HOOK.GCO",
    size=812_345, digest="5f1c", planned=2_280.0, planned_low=2_150.0, planned_high=2_500.0, planned_by="plan",
    material="PLA", filament_mm=4_120.0, filament_g=12.3,
)  # fmt: skip


def ended(summary: JobSummary = SUMMARY, event: str = "completed") -> Batch:
    change = JobChanged(summary.at, event, summary.number, summary.file, 812_345, "card", summary.seconds or 0.0)
    return Batch("doorway-1", summary.at, (change,), summaries=(summary,))


def only(record: Record) -> JobRow:
    (row,) = record.jobs()
    return row


def test_everything_that_a_job_came_to_is_kept(record: Record) -> None:
    record.commit(started(10))
    record.commit(ended())
    row = only(record)
    told = (row.ending, row.seconds, row.active, row.held, row.heating, row.size, row.digest)
    assert told == ("completed", 2_300.0, 2_200.0, 100.0, 180.0, 812_345, "5f1c")
    assert (row.planned, row.planned_low, row.planned_high, row.planned_by) == (2_280.0, 2_150.0, 2_500.0, "plan")
    assert (row.material, row.filament_mm, row.filament_g) == ("PLA", 4_120.0, 12.3)
    assert (row.sheet, row.sheet_age, row.blind) == (None, None, 0.0)
    assert record.job(row.id) == row
    assert record.job(row.id + 1) is None
    assert record.job_id("doorway-1", 1) == row.id
    assert record.job_id("loft-1", 1) is None


def test_the_same_end_told_twice_is_one_job(record: Record) -> None:
    record.commit(started(10))
    for _ in range(3):
        record.commit(ended())
    assert only(record).filament_mm == 4_120.0


@pytest.mark.parametrize("ending", ["halted", "lost"])
def test_how_it_ended_on_the_wire_is_told_apart(record: Record, ending: str) -> None:
    record.commit(started(10))
    record.commit(ended(SUMMARY._replace(ending=ending), "abandoned"))
    record.commit(ended(SUMMARY._replace(ending=ending), "abandoned"))
    assert only(record).ending == ending


def test_a_job_that_nobody_saw_begin_has_its_row_all_the_same(record: Record) -> None:
    record.commit(Batch("doorway-1", SUMMARY.at, summaries=(SUMMARY,)))
    row = only(record)
    assert (row.started, row.ended, row.origin) == (at(10).stamp, at(2_310).stamp, "card")


def test_a_number_that_comes_again_leaves_the_earlier_job_as_it_was(record: Record) -> None:
    """The watch lost its memory and counts from 1 again; it did not see the job begin."""
    record.commit(started(10))
    record.commit(ended())
    again = SUMMARY._replace(at=at(9_000), started=at(8_000).stamp, seconds=1_000.0, filament_g=3.0)
    record.commit(Batch("doorway-1", again.at, summaries=(again,)))
    record.commit(Batch("doorway-1", again.at, summaries=(again,)))
    assert [(row.number, row.seconds, row.filament_g) for row in record.jobs()] == [
        (1, 1_000.0, 3.0),
        (1, 2_300.0, 12.3),
    ]


def test_what_nobody_can_tell_stays_unknown(record: Record) -> None:
    record.commit(started(10))
    record.commit(ended(JobSummary(at(900), 1, "card", at(10).stamp, "lost", None), "abandoned"))
    row = only(record)
    assert (row.active, row.held, row.filament_mm, row.filament_g, row.digest) == (None,) * 5


def test_the_name_of_a_file_is_not_kept_unless_it_may_be(tmp_path: Path) -> None:
    """File names hold pupils' names. Nothing of the file's bytes may hold one."""
    path = tmp_path / "record.db"
    for nth, name in enumerate(["Hook by R-014.gcode", "OAR.GCO", "hook BY r-014.gcode"]):
        with Record.open(path, at(0)) as record:
            record.commit(started(10 + 5_000 * nth, nth + 1, name))
            stop = at(2_310 + 5_000 * nth)
            record.commit(ended(SUMMARY._replace(at=stop, number=nth + 1, file=name)))
            assert {row.file for row in record.jobs()} == {None}
    with Record.read(path) as reader:
        last, other, first = reader.jobs()
        assert first.name_hash == last.name_hash != other.name_hash
        assert first.name_hash is not None
    assert b"r-014" not in path.read_bytes().lower()


def test_the_same_name_has_another_hash_in_another_record(tmp_path: Path) -> None:
    """Else anybody with an export could find a pupil's name by trying the names of the class."""
    hashes = set()
    for nth in range(2):
        with Record.open(tmp_path / f"{nth}.db", at(0)) as record:
            record.commit(started(10, 1, "HOOK.GCO"))
            hashes.add(only(record).name_hash)
    assert len(hashes) == 2


def test_a_kept_name_can_be_forgotten_and_still_groups(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    with Record.open(path, at(0), keep_names=True) as record:
        record.commit(started(10, 1, "HOOK~1.GCO"))
        record.commit(ended(SUMMARY._replace(file="hook.gcode")))
        before = only(record)
        assert before.file == "hook.gcode"
        assert record.forget_names() == 1
        assert record.forget_names() == 0
        assert (only(record).file, only(record).name_hash) == (None, before.name_hash)


def test_a_job_has_the_sheet_that_lay_there_when_it_began(record: Record) -> None:
    """A sheet entered an hour late still counts its jobs rightly."""
    for number in range(1, 6):
        record.commit(started(number * 1_000, number))
    first = record.new_sheet("doorway-1", at=at(1_500).stamp, by="workshop lead")
    record.new_sheet("loft-1", at=at(1_500).stamp, by="workshop lead")
    second = record.new_sheet("doorway-1", at=at(3_500).stamp, by="workshop lead", why="worn")
    rows = [(row.number, row.sheet, row.sheet_age) for row in reversed(record.jobs())]
    assert rows == [(1, None, None), (2, first, 0), (3, first, 1), (4, second, 0), (5, second, 1)]


def blind(since: float, until: float) -> Batch:
    return Batch("doorway-1", at(until), (Noted(at(until), "blind", {"seconds": until - since}),))


def link(seconds: float, after: str) -> Batch:
    before = "available" if after == "unavailable" else "unavailable"
    return Batch("doorway-1", at(seconds), (StateChanged(at(seconds), "link", before, after),))


def test_blind_time_is_kept_as_spans_and_counted_once(record: Record) -> None:
    """The cable was out for 600 s, and the watch itself slept in the middle of it and beyond."""
    record.commit(started(10))
    for _ in range(2):  # committed twice
        record.commit(link(1_000, "unavailable"))
        record.commit(blind(1_400, 1_700))
    record.commit(link(1_600, "available"))
    record.commit(blind(2_200, 2_400))  # goes on beyond the job's end
    record.commit(ended())
    record.commit(link(3_000, "unavailable"))
    spans = [(one.cause, one.since, one.until) for one in record.blind(machine="doorway-1")]
    assert spans == [
        ("link", at(1_000).stamp, at(1_600).stamp),
        ("watch", at(1_400).stamp, at(1_700).stamp),
        ("watch", at(2_200).stamp, at(2_400).stamp),
        ("link", at(3_000).stamp, None),
    ]
    assert only(record).blind == 700.0 + 110.0
    assert record.blind(at(2_500).stamp, at(2_900).stamp) == ()
    assert len(record.blind(at(3_500).stamp)) == 1  # it goes on


def test_other_axes_make_nobody_blind(record: Record) -> None:
    effects: tuple[Effect, ...] = (
        StateChanged(at(1), "execution", "ready", "unavailable"),
        Noted(at(1), "link", {"seconds": 9}),
        Noted(at(1), "blind", {"seconds": 0}),
    )
    record.commit(Batch("doorway-1", at(1), effects))
    assert record.blind() == ()


def test_a_summary_that_fails_leaves_the_job_running(record: Record) -> None:
    """The end and what it came to are one transaction."""
    record.commit(started(10))
    with closing(sqlite3.connect(record.path)) as other:
        other.execute("CREATE TRIGGER no BEFORE UPDATE OF filament_g ON job BEGIN SELECT RAISE(ABORT, 'no'); END")
        other.commit()
    with pytest.raises(OSError, match="no"):
        record.commit(ended())
    assert only(record).ended is None
