"""A damaged file is moved aside, what can be read is saved, and the watch goes on."""

import gzip
import random
import shutil
import sqlite3
import stat
from contextlib import closing, suppress
from pathlib import Path
from typing import Any

import pytest

from watchdog.core.effects import AlarmChanged, JobChanged, Noted, Priority, StateChanged, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.traffic import Direction
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.export import TABLES
from watchdog.record.faults import RecordUnusable
from watchdog.record.labels import Words
from watchdog.record.store import Record
from watchdog.record.surroundings import Excerpt, Measured, RawLine
from watchdog.record.term_rows import Result, Subject

COUNT = 60


def batch(nth: int) -> Batch:
    at = Moment(nth * 1_000.0, 1_772_442_000.0 + nth * 1_000)
    tell = Tell(at, TellKind.ALARM, "hot-idle", nth, Priority.HIGH, at, 1, {"nth": nth, "text": "x" * 300}, None)
    effects = (
        AlarmChanged(at, "hot-idle", nth, Transition.RAISED, Priority.HIGH, {"text": "y" * 300}),
        tell,
        StateChanged(at, "hotend", "cold", "z" * 200),
        Noted(at, "link", {"text": "n" * 200}),
    )
    lines = tuple(RawLine(n, at, Direction.RECEIVED, "ok T:205.0 /0.0 B:60.0 /60.0") for n in range(20))
    readings = tuple(Measured(n, at, 205.0, 0.0, 60.0, 60.0, None) for n in range(20))
    return Batch("doorway-1", at, effects, (Order(tell, "workshop lead"),), "{}", Excerpt(lines, readings))


LATE = batch(COUNT + 1).at


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A record of sixty alarms, closed in good order."""
    file = tmp_path / "record.db"
    with Record.open(file, batch(0).at) as record:
        for nth in range(1, COUNT + 1):
            record.commit(batch(nth))
    return file


def spoil(path: Path, start: int, count: int, seed: int = 3) -> None:
    with path.open("r+b") as file:
        file.seek(start)
        file.write(random.Random(seed).randbytes(count))


def sound(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []


def works(record: Record) -> None:
    """Everything that the service and the commands ask can be asked, and a new alarm goes through."""
    record.commit(batch(COUNT + 1))
    assert [parcel.tell for parcel in record.due(LATE.stamp)][-1] == batch(COUNT + 1).orders[0].tell
    for row in record.incidents(limit=1_000):
        assert record.incident(row.id) is not None
    assert record.standing()
    record.events(limit=1_000)
    record.jobs()
    record.prune(LATE)


@pytest.mark.parametrize("count", [16, 100, 512, 4_096])
def test_a_file_whose_beginning_is_noise_is_moved_aside_and_its_rows_are_saved(path: Path, count: int) -> None:
    """Without its first page nothing of the file can be read in the usual way, though all that matters is there."""
    spoil(path, 0, count)
    damaged = path.read_bytes()
    with Record.open(path, LATE) as record:
        assert record.rescued is not None
        assert record.rescued.aside.name == "record.db.damaged-20260303T015640Z"
        assert record.rescued.aside.read_bytes() == damaged
        assert [parcel.tell for parcel in record.due(LATE.stamp)] == [
            batch(nth).orders[0].tell for nth in range(1, COUNT + 1)
        ]
        assert record.rescued.incomplete == ()
        works(record)
    sound(path)


def test_a_file_that_is_all_noise_is_moved_aside(path: Path) -> None:
    spoil(path, 0, path.stat().st_size)
    with Record.open(path, LATE) as record:
        assert record.rescued is not None
        assert "parcel" in record.rescued.incomplete
        works(record)
    sound(path)


def test_most_messages_are_saved_when_a_page_in_the_middle_is_noise(path: Path) -> None:
    """One bad block of the memory card must not cost the messages on the other blocks."""
    with closing(sqlite3.connect(path)) as connection:
        pages = connection.execute("SELECT pageno FROM dbstat WHERE name = 'parcel' AND pagetype = 'leaf'").fetchall()
    page = pages[len(pages) // 2][0]
    spoil(path, (page - 1) * 4_096, 4_096)
    with Record.open(path, LATE) as record:
        assert record.rescued is not None
        assert "parcel" in record.rescued.incomplete
        due = [parcel.tell for parcel in record.due(LATE.stamp)]
        assert len(due) >= COUNT - 20  # a page holds about ten
        assert all(tell == batch(tell.occurrence).orders[0].tell for tell in due)
        assert {due[0].occurrence, due[-1].occurrence} == {1, COUNT}  # from before and from behind the bad page
        assert record.rescued.saved["parcel"] == len(due)
        assert record.rescued.saved["alarm"] == COUNT
        assert record.world("doorway-1") == ("{}", batch(COUNT).at)
        works(record)
    sound(path)


@pytest.mark.parametrize("seed", range(25))
def test_noise_anywhere_never_stops_the_watch(path: Path, seed: int) -> None:
    """Random sectors become noise: the record opens, is sound, and takes the next alarm."""
    dice = random.Random(seed)
    for _ in range(dice.randrange(1, 6)):
        spoil(path, 512 * dice.randrange(1, path.stat().st_size // 512), 512, dice.randrange(10**6))
    with Record.open(path, LATE) as record:
        with suppress(RecordUnusable):  # found only now: the next call opens it again and saves what it can
            works(record)
        works(record)
    with Record.open(path, LATE) as record:
        works(record)
    sound(path)


def test_a_file_cut_short_is_saved_as_far_as_it_goes(path: Path) -> None:
    with path.open("r+b") as file:
        file.truncate(path.stat().st_size * 3 // 4)  # half is taken by the tables before anything is in them
    with Record.open(path, LATE) as record:
        assert record.rescued is not None
        assert len(record.due(LATE.stamp)) >= COUNT // 4
        works(record)
    sound(path)


def test_damage_that_shows_while_the_service_runs_is_mended_at_the_next_call(path: Path) -> None:
    with Record.open(path, LATE) as record:
        spoil(path, 4_096, path.stat().st_size - 4_096)
        with record._looking() as pen:
            pen.all("PRAGMA shrink_memory")  # what is in memory hides the damage
        with pytest.raises(RecordUnusable) as caught:
            record.due(LATE.stamp)
        assert caught.value.damaged
        works(record)
        assert record.rescued is not None
    sound(path)


def test_the_log_beside_a_damaged_file_is_moved_with_it(path: Path, tmp_path: Path) -> None:
    """A log that stayed behind would be played into the new file and damage that as well."""
    with Record.open(path, LATE) as record:
        record.commit(batch(COUNT + 2))
        for suffix in ("", "-wal"):
            shutil.copy(path.with_name(path.name + suffix), tmp_path / f"crashed.db{suffix}")
    crashed = tmp_path / "crashed.db"
    spoil(crashed, 4_096, crashed.stat().st_size - 4_096)
    with Record.open(crashed, LATE) as record:
        assert record.rescued is not None
        aside = record.rescued.aside
        assert aside.with_name(aside.name + "-wal").exists()
        works(record)
    sound(crashed)


def test_a_rescue_that_was_cut_off_goes_on(path: Path) -> None:
    """The power fails once more in the middle of the rescue: the next start must not begin with an empty record."""
    aside = path.with_name(path.name + ".damaged-20260303T015640Z")
    path.rename(aside)
    path.with_name(path.name + ".rescue-20260303T015640Z").write_bytes(b"half a copy")
    with Record.open(path, LATE) as record:
        assert record.rescued is not None
        assert record.rescued.aside == aside
        assert len(record.due(LATE.stamp)) == COUNT
        works(record)
    assert not list(path.parent.glob("*.rescue*"))
    sound(path)


def test_a_rescue_that_had_not_moved_anything_begins_again(path: Path) -> None:
    path.with_name(path.name + ".rescue-20260101T000000Z").touch()
    spoil(path, 0, 100)
    with Record.open(path, LATE) as record:
        assert record.rescued is not None
    assert not list(path.parent.glob("*.rescue*"))
    assert len(list(path.parent.glob("*.damaged-*Z"))) == 1


def test_an_old_damaged_file_is_not_taken_up_again(path: Path) -> None:
    """Somebody deleted the record on purpose: last year's damaged one must not come back."""
    path.rename(path.with_name(path.name + ".damaged-20250101T000000Z"))
    with Record.open(path, LATE) as record:
        assert record.rescued is None
        assert record.incidents() == ()


def test_the_new_file_is_its_owners_alone(path: Path) -> None:
    spoil(path, 0, 100)
    Record.open(path, LATE).close()
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_two_rescues_within_a_second_keep_both_files(path: Path) -> None:
    for _ in range(2):
        spoil(path, 0, 100)
        Record.open(path, LATE).close()
    assert len(list(path.parent.glob("*.damaged-*"))) == 2


def test_a_reader_says_that_the_file_is_damaged_and_leaves_it(path: Path) -> None:
    spoil(path, 0, 100)
    before = path.read_bytes()
    with pytest.raises(RecordUnusable, match="damaged"):
        Record.read(path)
    assert path.read_bytes() == before


@pytest.fixture
def lived(tmp_path: Path) -> Path:
    """A record with many jobs, each of which somebody labelled, and what was done to the machine."""
    file = tmp_path / "lived.db"
    with Record.open(file, batch(0).at) as record:
        spool = record.load_spool(
            "doorway-1", at=1.0, by="workshop lead", material="PLA", density=1.24, diameter=1.75, net=500.0, empty=220.0
        )
        record.new_sheet("doorway-1", at=1.0, by="workshop lead")
        for nth in range(1, COUNT + 1):
            at = batch(nth).at
            change = JobChanged(at, "started", nth, "HOOK.GCO", 812_345, "card", 0.0)
            summary = JobSummary(at, nth, "card", at.stamp, "completed", 0.0, filament_mm=100.0)
            record.commit(Batch("doorway-1", at, (change,), summaries=(summary,)))
            words = Words(Result.GOOD, note="n" * 300)
            record.label(Subject.JOB, nth, words, at=at.stamp, by="workshop lead", how="command")
            record.label(Subject.FIRST_LAYER, nth, Words(Result.GOOD), at=at.stamp, by="workshop lead", how="link")
            record.done("doorway-1", "nozzle", at=at.stamp, by="workshop lead", note="d" * 100)
            record.weigh_spool(spool, at=at.stamp, by="workshop lead", weight=700.0 - nth)
            record.measure_filament("doorway-1", at=at.stamp, by="workshop lead", mm=1.75)
    return file


def tables_of(record: Record) -> dict[str, list[dict[str, Any]]]:
    return {table: list(record.export_rows(table)) for table in TABLES}


def test_a_lost_first_page_costs_no_label_and_no_job(lived: Path) -> None:
    with Record.open(lived, LATE) as record:
        before = tables_of(record)
    spoil(lived, 0, 4_096)
    with Record.open(lived, LATE) as record:
        assert record.rescued is not None
        assert tables_of(record) == before
        works(record)
    sound(lived)


@pytest.mark.parametrize("table", ["job", "label", "upkeep", "spool", "sheet", "weighing", "diameter"])
def test_a_lost_page_of_one_table_leaves_the_others_as_they_were(lived: Path, table: str) -> None:
    """A label whose job is lost stays as what somebody said then, and never becomes a word about another job."""
    with closing(sqlite3.connect(lived)) as connection:
        pages = connection.execute(
            "SELECT pageno FROM dbstat WHERE name = ? AND pagetype = 'leaf' ORDER BY pageno DESC", (table,)
        ).fetchall()
    with Record.open(lived, LATE) as record:
        before = tables_of(record)
    spoil(lived, (pages[0][0] - 1) * 4_096, 4_096)
    with Record.open(lived, LATE) as record:
        assert record.rescued is not None
        assert record.rescued.incomplete[:1] == (table,)
        after = tables_of(record)
        assert len(after[table]) < len(before[table])
        depending = {"spool": {"weighing", "diameter"}, "job": {"job_change", "label"}, "sheet": {"job"}}
        for name in set(TABLES) - {table} - depending.get(table, set()):
            assert after[name] == before[name], name
        assert len(after["label"]) == len(before["label"]) or table == "label"
        jobs = {row["id"]: row["started"] for row in after["job"]}
        assert all(row["subject"] is None or jobs[row["subject"]] == row["subject_at"] for row in after["label"])
        works(record)
    sound(lived)


def test_an_older_file_without_its_first_page_is_read_as_what_it_was(tmp_path: Path) -> None:
    """The card failed, and the program was brought up to date in the same week."""
    path = tmp_path / "older.db"
    content = (Path(__file__).parent / "older" / "0001.db.gz").read_bytes()
    path.write_bytes(gzip.decompress(content))
    with closing(sqlite3.connect(path)) as connection:
        (jobs,) = connection.execute("SELECT count(*) FROM job").fetchone()
        (parcels,) = connection.execute("SELECT count(*) FROM parcel").fetchone()
    spoil(path, 0, 4_096)
    with Record.open(path, LATE) as record:
        assert record.rescued is not None
        assert (record.rescued.saved["job"], record.rescued.saved["parcel"]) == (jobs, parcels)
        assert record.rescued.incomplete == ()
        works(record)
    sound(path)
