"""A full disk, a read-only folder, a lock: a clear sentence, nothing lost, and on it goes when the cause is gone."""

import os
import sqlite3
import subprocess
import threading
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path

import pytest

from watchdog.core.effects import AlarmChanged, Noted, Priority, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.record.batch import Batch
from watchdog.record.faults import RecordUnusable
from watchdog.record.store import Record


def batch(nth: int) -> Batch:
    at = Moment(float(nth), 1_772_442_000.0 + nth)
    tell = Tell(at, TellKind.ALARM, "hot-idle", nth, Priority.HIGH, at, 1, {}, None)
    raised = AlarmChanged(at, "hot-idle", nth, Transition.RAISED, Priority.HIGH, {"text": "x" * 2_000})
    return Batch("doorway-1", at, (raised, tell), (Order(tell, "workshop lead"),), f"{nth}")


T0 = batch(0).at


def told(record: Record) -> list[int]:
    return [parcel.tell.occurrence for parcel in record.due(T0.stamp + 1e6)]


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A file system of one megabyte of its own."""
    place = tmp_path / "disk"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=1m,mode=0700", "tmpfs", str(place)]
    if os.geteuid() != 0 or subprocess.run(mount, capture_output=True, check=False).returncode:
        pytest.skip("a file system can only be mounted with the right to do so")
    yield place
    subprocess.run(["umount", str(place)], check=True)


def test_a_full_disk_is_named_and_costs_nothing_that_was_committed(small_disk: Path) -> None:
    path = small_disk / "record.db"
    ballast = small_disk / "ballast"
    with Record.open(path, T0) as record:
        record.commit(batch(1))
        with suppress(OSError), ballast.open("wb") as heavy:
            while True:
                heavy.write(b"\0" * 4096)
                heavy.flush()
        committed = 1
        with pytest.raises(RecordUnusable, match="the disk is full") as caught:  # noqa: PT012
            for nth in range(2, 1_000):
                record.commit(batch(nth))
                committed = nth
        assert caught.value.place == path
        assert "Free some space" in caught.value.remedy
        assert told(record) == list(range(1, committed + 1))
        ballast.unlink()
        record.commit(batch(committed + 1))  # the service kept it and tries again
        assert told(record) == list(range(1, committed + 2))
    with Record.open(path, T0) as record:
        assert record.rescued is None
        assert told(record) == list(range(1, committed + 2))


def test_a_disk_that_is_full_at_the_start_is_named(small_disk: Path) -> None:
    with suppress(OSError), (small_disk / "ballast").open("wb") as heavy:
        while True:
            heavy.write(b"\0" * 4096)
            heavy.flush()
    with pytest.raises(RecordUnusable):
        Record.open(small_disk / "record.db", T0)
    (small_disk / "ballast").unlink()
    with Record.open(small_disk / "record.db", T0) as record:
        record.commit(batch(1))
        assert told(record) == [1]


def test_a_file_that_may_not_grow_is_named_and_goes_on_when_it_may(tmp_path: Path) -> None:
    """The same by SQLite's own limit, so that it is tried without the right to mount, too."""
    with Record.open(tmp_path / "record.db", T0) as record:
        record.commit(batch(1))
        with record._looking() as pen:
            pages = pen.one("PRAGMA page_count")
            assert pages is not None
            pen.one(f"PRAGMA max_page_count = {pages[0] + 2}")
        committed = 1
        with pytest.raises(RecordUnusable, match="the disk is full"):  # noqa: PT012
            for nth in range(2, 100):
                record.commit(batch(nth))
                committed = nth
        assert told(record) == list(range(1, committed + 1))
        with record._looking() as pen:
            pen.one("PRAGMA max_page_count = 100000")
        record.commit(batch(committed + 1))
        assert told(record) == list(range(1, committed + 2))


def test_a_read_only_disk_is_named(small_disk: Path) -> None:
    path = small_disk / "record.db"
    with Record.open(path, T0) as record:
        record.commit(batch(1))
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    with pytest.raises(RecordUnusable) as caught:
        Record.open(path, T0)
    assert str(path) in str(caught.value)
    assert "Give" in caught.value.remedy or "See" in caught.value.remedy
    with pytest.raises(RecordUnusable):
        Record.open(small_disk / "other.db", T0)
    with Record.read(path) as reader:  # what is there can still be looked up
        assert [row.id for row in reader.incidents()] == [1]
    subprocess.run(["mount", "-o", "remount,rw", str(small_disk)], check=True)
    with Record.open(path, T0) as record:
        assert told(record) == [1]


@pytest.fixture
def closed_folder(tmp_path: Path) -> Iterator[Path]:
    """A folder into which this user may not go; root, who may go everywhere, is nobody meanwhile."""
    folder = tmp_path / "state"
    folder.mkdir(mode=0o000)
    if os.geteuid() == 0:
        os.seteuid(65534)
        yield folder
        os.seteuid(0)
    else:
        yield folder
    folder.chmod(0o700)


def test_a_folder_that_may_not_be_used_is_named(closed_folder: Path) -> None:
    """`emberward incidents` as another user: a sentence, not a traceback."""
    with pytest.raises(RecordUnusable, match=r"state/record\.db: access is not allowed") as caught:
        Record.open(closed_folder / "record.db", T0)
    assert "Give this user the right" in caught.value.remedy
    with pytest.raises(RecordUnusable, match=r"state/record\.db: access is not allowed"):
        Record.read(closed_folder / "record.db")


def test_a_file_where_the_folder_should_be_is_named(tmp_path: Path) -> None:
    (tmp_path / "state").touch()
    with pytest.raises(RecordUnusable, match="state"):
        Record.open(tmp_path / "state" / "record.db", T0)


def test_a_folder_where_the_file_should_be_is_named(tmp_path: Path) -> None:
    (tmp_path / "record.db").mkdir()
    with pytest.raises(RecordUnusable, match=r"record\.db"):
        Record.open(tmp_path / "record.db", T0)


def test_a_missing_record_is_named_to_a_reader(tmp_path: Path) -> None:
    with pytest.raises(RecordUnusable, match="there is no record yet") as caught:
        Record.read(tmp_path / "record.db")
    assert "Start the watch" in caught.value.remedy
    assert list(tmp_path.iterdir()) == []


def test_a_commit_waits_for_a_short_lock(tmp_path: Path) -> None:
    """A backup program holds the file for a moment: that must not cost a message."""
    with Record.open(tmp_path / "record.db", T0) as record:
        other = sqlite3.connect(record.path, isolation_level=None, check_same_thread=False)
        with closing(other):
            other.execute("BEGIN IMMEDIATE")
            release = threading.Timer(0.2, lambda: other.execute("COMMIT"))
            release.start()
            record.commit(batch(1))
            release.join()
        assert told(record) == [1]


def test_a_lock_that_stays_is_named_and_the_commit_can_be_made_later(tmp_path: Path) -> None:
    with Record.open(tmp_path / "record.db", T0, patience=0.05) as record:
        with closing(sqlite3.connect(record.path, isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            with pytest.raises(RecordUnusable, match="another program holds it"):
                record.commit(batch(1))
            assert told(record) == []
        record.commit(batch(1))
        assert told(record) == [1]


def test_two_writers_take_turns(tmp_path: Path) -> None:
    """Only one service runs; should a second one slip through, neither may lose what it commits."""
    path = tmp_path / "record.db"
    with Record.open(path, T0) as one, Record.open(path, T0) as two:
        for nth in range(1, 20, 2):
            one.commit(batch(nth))
            two.commit(batch(nth + 1))
        assert told(one) == told(two) == list(range(1, 21))


def test_readers_see_whole_batches_while_the_service_writes(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    stop = threading.Event()
    with Record.open(path, T0) as record:
        record.commit(batch(1))

        def write() -> None:
            for nth in range(2, 3_000):
                if stop.is_set():
                    return
                change = Noted(batch(nth).at, "link", {"nth": nth})
                record.commit(batch(nth)._replace(effects=(*batch(nth).effects, change)))

        writer = threading.Thread(target=write)
        writer.start()
        try:
            with Record.read(path) as reader:
                seen = 0
                for _ in range(100):
                    incident = reader.incident(1)
                    assert incident is not None
                    assert len(incident.alarms) == len(incident.messages) == len(incident.notes) + 1
                    assert len(incident.alarms) >= seen
                    seen = len(incident.alarms)
        finally:
            stop.set()
            writer.join()
        assert len(told(record)) >= seen


def test_a_reader_cannot_write(tmp_path: Path) -> None:
    path = tmp_path / "record.db"
    with Record.open(path, T0) as record:
        record.commit(batch(1))
        with Record.read(path) as reader, pytest.raises(RecordUnusable), reader._looking() as pen:
            pen.run("DELETE FROM parcel")
        assert told(record) == [1]
