"""Kill -9 and power cuts: whatever was acknowledged is there afterwards, and no batch is there in half."""

import json
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from watchdog.core.effects import AlarmChanged, JobChanged, Noted, Priority, StateChanged, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.traffic import Direction
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.store import Record
from watchdog.record.surroundings import Excerpt, RawLine

LATER = Moment(1e6, 1_772_500_000.0)


def batch(nth: int) -> Batch:
    """An alarm, a message to two people, a state, a job with its sum, a raw line and the world: each carries `nth`."""
    at = Moment(float(nth), 1_772_442_000.0 + nth)
    tell = Tell(at, TellKind.ALARM, "hot-idle", nth, Priority.HIGH, at, 1, {"nth": nth}, None)
    effects = (
        AlarmChanged(at, "hot-idle", nth, Transition.RAISED, Priority.HIGH, {"nth": nth}),
        tell,
        StateChanged(at, "hotend", "heating", f"{nth}"),
        JobChanged(at, "started", nth, f"{nth}.GCO", nth, "card", 0.0),
        Noted(at, "blind", {"seconds": 0.5}),
    )
    summary = JobSummary(at, nth, "card", at.stamp, "completed", 0.0, filament_g=float(nth))
    lines = (RawLine(nth, at, Direction.RECEIVED, f"{nth}"),)
    people = (Order(tell, "workshop lead"), Order(tell, "duty warden", at.stamp + 60, True, f"{nth}"))
    return Batch("doorway-1", at, effects, people, json.dumps(nth), Excerpt(lines), (summary,))


COMMITTING = """
import importlib.util, sys
from pathlib import Path
spec = importlib.util.spec_from_file_location("committing", sys.argv[1])
test = importlib.util.module_from_spec(spec)
spec.loader.exec_module(test)
first = int(sys.argv[3])
with test.Record.open(Path(sys.argv[2]), test.batch(first).at) as record:
    for nth in range(first, first + int(sys.argv[4])):
        record.commit(test.batch(nth))
        print(nth, flush=True)
"""


def committing(path: Path, first: int, count: int) -> list[str]:
    return [sys.executable, "-c", COMMITTING, __file__, str(path), str(first), str(count)]


def whole_batches(path: Path) -> set[int]:
    """The numbers of the batches in the file, each of them complete."""
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        parts = [
            connection.execute(statement).fetchall()
            for statement in (
                "SELECT occurrence FROM alarm",
                "SELECT occurrence FROM transition",
                "SELECT CAST(after AS INTEGER) FROM state_change",
                "SELECT number FROM job WHERE ending = 'completed' AND name_hash IS NOT NULL AND file IS NULL",
                "SELECT CAST(filament_g AS INTEGER) FROM job",
                f"SELECT CAST(until - {batch(0).at.stamp} AS INTEGER) FROM blind_span",
                "SELECT CAST(text AS INTEGER) FROM raw_line",
                "SELECT occurrence FROM parcel WHERE person = 'workshop lead'",
                "SELECT occurrence FROM parcel WHERE person = 'duty warden'",
            )
        ]
        worlds = connection.execute("SELECT json FROM world").fetchall()
    numbers = [sorted(number for (number,) in part) for part in parts]
    assert all(part == numbers[0] for part in numbers), "a batch is there in half"
    assert len(set(numbers[0])) == len(numbers[0])
    assert worlds == ([(str(numbers[0][-1]),)] if numbers[0] else [])
    return set(numbers[0])


@pytest.mark.timeout(300)
def test_what_was_acknowledged_survives_kill_9(tmp_path: Path) -> None:
    """The service is killed at 25 random points, mostly in the middle of a commit; each start goes on with the same file."""
    path = tmp_path / "record.db"
    dice = random.Random(7)
    acknowledged: set[int] = set()
    first = 1
    for _ in range(25):
        child = subprocess.Popen(committing(path, first, 1_000_000), stdout=subprocess.PIPE, text=True)
        assert child.stdout is not None
        with child.stdout:
            for _ in range(dice.randrange(1, 12)):
                acknowledged.add(int(child.stdout.readline()))
            child.send_signal(signal.SIGKILL)
            acknowledged.update(int(line) for line in child.stdout if line.endswith("\n"))
        assert child.wait() == -signal.SIGKILL
        stored = whole_batches(path)
        assert acknowledged <= stored
        assert len(stored - acknowledged) <= 25  # at most one a kill: committed, and killed before it could say so
        first = max(stored) + 1
    with Record.open(path, LATER) as record:
        assert {parcel.tell.occurrence for parcel in record.due(LATER.stamp)} >= acknowledged
        assert record.rescued is None


def test_a_log_cut_off_anywhere_leaves_whole_batches(tmp_path: Path) -> None:
    """A power cut may leave any part of what was being written: the batches before it stay, the torn one is not there."""
    path = tmp_path / "record.db"
    with Record.open(path, batch(1).at) as record:
        kept = []
        for nth in range(1, 9):
            record.commit(batch(nth))
            kept.append(path.with_name(path.name + "-wal").stat().st_size)
        shutil.copy(path, tmp_path / "main")
        shutil.copy(path.with_name(path.name + "-wal"), tmp_path / "log")
    log = (tmp_path / "log").read_bytes()
    dice = random.Random(11)
    sizes = {*kept, *(size - 1 for size in kept), *(dice.randrange(len(log)) for _ in range(30))}
    for nth, size in enumerate(sorted(sizes)):
        torn = tmp_path / f"torn-{nth}.db"
        shutil.copy(tmp_path / "main", torn)
        noise = dice.randbytes(dice.choice([0, 500, 9_000]))  # sectors that never were written hold something older
        torn.with_name(torn.name + "-wal").write_bytes(log[:size] + noise)
        with Record.open(torn, LATER) as record:
            assert record.rescued is None
            record.save_world("loft-1", "{}", LATER)
        with closing(sqlite3.connect(torn)) as connection:
            connection.execute("DELETE FROM world WHERE machine = 'loft-1'")
            connection.commit()
        complete = sum(1 for end in kept if end <= size)
        assert whole_batches(torn) == set(range(1, complete + 1))


@pytest.mark.skipif(shutil.which("strace") is None, reason="strace is not installed")
def test_each_commit_is_flushed_to_the_disk_before_it_is_acknowledged(tmp_path: Path) -> None:
    """A killed process proves nothing about a power cut: what counts there is that the disk was told to keep it."""
    trace = tmp_path / "trace"
    strace = ["strace", "-f", "-e", "trace=write,fdatasync,fsync,pwrite64", "-s", "16", "-o", str(trace)]
    command = committing(tmp_path / "record.db", 1, 8)
    ended = subprocess.run([*strace, *command], capture_output=True, text=True, timeout=60)
    if ended.returncode and "ptrace" in ended.stderr:
        pytest.skip("tracing is not allowed here")
    assert ended.stdout.split() == [str(nth) for nth in range(1, 9)]
    unflushed, told = False, 0
    for line in trace.read_text().splitlines():
        if "pwrite64(" in line:
            unflushed = True
        elif "fdatasync(" in line or "fsync(" in line:
            unflushed = False
        elif re.search(r'write\(1, "\d', line):
            told += 1
            assert not unflushed, f"told before it was flushed: {line}"
    assert told == 8
