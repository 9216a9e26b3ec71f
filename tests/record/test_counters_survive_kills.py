"""A term of a thousand jobs, and the service killed fifty times in it: every counter is exact to the job and the minute."""

import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from watchdog.core.effects import JobChanged
from watchdog.core.moment import Moment
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.labels import Words
from watchdog.record.minutes import Minute, Spread
from watchdog.record.store import Record
from watchdog.record.surroundings import Excerpt
from watchdog.record.term_rows import Result, Subject, UpkeepRow

JOBS, KILLS = 1_000, 50
BEGIN = 1_772_442_000.0  # a whole minute
EACH = 3_600.0  # s from one job's beginning to the next
NOZZLE_AFTER = (250, 400, 731)  # the nozzle was changed after these jobs


def minutes(number: int) -> int:
    """How long job `number` runs."""
    return number * 7 % 43 + 3


def tenths(number: int) -> int:
    """Tenths of a gram that it takes; nobody knows it of every ninth."""
    return number * 13 % 400


def began(number: int) -> Moment:
    return Moment(number * EACH, BEGIN + number * EACH)


def ended(number: int) -> Moment:
    seconds = number * EACH + minutes(number) * 60.0
    return Moment(seconds, BEGIN + seconds)


def beginning(number: int) -> Batch:
    change = JobChanged(began(number), "started", number, None, None, "card", 0.0)
    return Batch("doorway-1", began(number), (change,))


def end(number: int) -> Batch:
    seconds = minutes(number) * 60.0
    at = ended(number)
    change = JobChanged(at, "completed", number, "HOOK.GCO", 812_345, "card", seconds)
    grams = None if number % 9 == 0 else tenths(number) / 10
    summary = JobSummary(at, number, "card", began(number).stamp, "completed", seconds, seconds, 0.0, filament_g=grams)
    first = int(began(number).stamp // 60)
    hot = Spread(200.0, 205.0, 405.0, 2)
    excerpt = Excerpt(minutes=tuple(Minute(first + nth, hot, 205.0) for nth in range(minutes(number))))
    return Batch("doorway-1", at, (change,), world=f"{number}", surroundings=excerpt, summaries=(summary,))


def live(record: Record, number: int) -> None:
    """One job, with what somebody says and does after it. Begun again after a kill, it is the same job."""
    record.commit(beginning(number))
    record.commit(end(number))
    job = record.job_id("doorway-1", number)
    assert job is not None
    if not record.labels_of(Subject.JOB, job):
        record.label(Subject.JOB, job, Words(Result.GOOD), at=ended(number).stamp, by="workshop lead", how="command")
    if number in NOZZLE_AFTER:
        record.done("doorway-1", "nozzle", at=ended(number).stamp, by="workshop lead")


LIVING = """
import importlib.util, sys
from pathlib import Path
spec = importlib.util.spec_from_file_location("living", sys.argv[1])
test = importlib.util.module_from_spec(spec)
spec.loader.exec_module(test)
with test.Record.open(Path(sys.argv[2]), test.began(0)) as record:
    stored = record.world("doorway-1")
    for number in range(int(stored[0]) if stored else 1, test.JOBS + 1):
        test.live(record, number)
        print(number, flush=True)
"""


def living(path: Path) -> "subprocess.Popen[str]":
    return subprocess.Popen([sys.executable, "-c", LIVING, __file__, str(path)], stdout=subprocess.PIPE, text=True)


def exact(row: UpkeepRow, after: int, upto: int) -> bool:
    """The counters are those of jobs `after` + 1 to `upto`, to the job, the minute and the tenth of a gram."""
    lived = range(after + 1, upto + 1)
    time = sum(minutes(number) for number in lived)
    assert (row.jobs, row.active, row.hot) == (len(lived), time * 60.0, time)
    assert row.grams == pytest.approx(sum(tenths(number) for number in lived if number % 9) / 10, abs=1e-6)
    assert (row.jobs_without_time, row.jobs_without_grams) == (0, sum(number % 9 == 0 for number in lived))
    return True


def judge(path: Path, told: int) -> int:
    """Every counter is exact for the jobs that are stored, which are those that were told, and at most one more."""
    with Record.read(path) as reader, reader.one_moment():
        surface, nozzle = reader.upkeep("doorway-1", ("build surface", "nozzle"), 150.0)
        stored = surface.jobs
        assert told <= stored <= told + 1
        changed = [number for number in NOZZLE_AFTER if number <= stored]
        if changed and nozzle.done != ended(changed[-1]).stamp:  # killed between the job and the word of it
            assert changed.pop() == stored
        assert exact(surface, 0, stored)
        assert exact(nozzle, changed[-1] if changed else 0, stored)
    return stored


@pytest.mark.timeout(600)
def test_fifty_kills_in_a_thousand_jobs_change_no_counter(tmp_path: Path) -> None:
    """A counter that loses a job at each kill has the nozzle changed too late; one that doubles it, a sheet too early."""
    path = tmp_path / "record.db"
    Record.open(path, began(0)).close()
    dice = random.Random(5)
    told = stored = 0
    for _ in range(KILLS):
        with living(path) as child:
            assert child.stdout is not None
            for _ in range(dice.randrange(1, 2 * (JOBS - 100) // KILLS)):
                told = max(told, int(child.stdout.readline() or told))
            child.send_signal(signal.SIGKILL)
            told = max(told, *(int(line) for line in child.stdout if line.endswith("\n")), 0)
        assert child.returncode == -signal.SIGKILL  # it never came to its end before
        stored = judge(path, told)
    assert stored > JOBS // 2
    with living(path) as child:
        child.communicate()
    assert child.returncode == 0
    assert judge(path, JOBS) == JOBS
    with Record.read(path) as reader:
        assert len(reader.jobs(limit=None)) == len(reader.labels(kind=Subject.JOB)) == JOBS
        assert [row.at for row in reader.upkeep_done()] == [ended(number).stamp for number in NOZZLE_AFTER]
        assert reader.unlabelled() == ()
