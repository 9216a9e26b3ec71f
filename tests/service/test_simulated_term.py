"""A simulated week of the bench's term, through machine, core, routing and register into a real record: what the record says is
what happened, and what can be worked out from its export is what the review says."""

import importlib
import subprocess
import sys
from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from watchdog.cli.export import write
from watchdog.core.effects import TellKind
from watchdog.core.moment import Moment
from watchdog.record.reader import Reader
from watchdog.record.store import Record
from watchdog.review.exported import exported
from watchdog.review.figures import figures
from watchdog.review.plain import plain
from watchdog.review.recorded import recorded
from watchdog.settings.house import house_of
from watchdog.settings.load import load

ROOT = Path(__file__).parents[2]
WEEKS, SEED = 1, 1
pytestmark = pytest.mark.timeout(900)  # the week is lived once, for all tests; a busy computer takes minutes for it
EVERY_KIND = {"hot-idle", "card-glitch", "sheet-worn", "supply-dip", "tangle", "jam", "laptop-restart"}


def bench(name: str) -> Any:
    """A module of the bench, which lies outside the package."""
    return importlib.import_module(f"tests.bench.term.{name}")


@pytest.fixture(scope="module")
def week(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """Where the record and its settings lie, and what really happened."""
    with pytest.MonkeyPatch.context() as patched:
        patched.syspath_prepend(str(ROOT))
        folder = tmp_path_factory.mktemp("term") / "week"
        yield folder, bench("running").term(folder, WEEKS, SEED, busy=0.15)


@pytest.fixture(scope="module")
def judged(week: Any) -> Any:
    folder, truth = week
    return bench("judged").judged(folder / "incidents.db", truth)


def test_every_job_is_in_the_register_and_right(week: Any, judged: Any) -> None:
    """Its start, ending, duration, filament and label. Counters, prices and the success share are made of these."""
    _, truth = week
    assert len(truth["jobs"]) >= 20
    assert {job["machine"] for job in truth["jobs"]} == {"doorway-1", "loft-1"}
    assert judged.faults == ()
    assert judged.jobs == len(judged.matched) == len(truth["jobs"])


def test_a_record_that_disagrees_with_what_happened_is_found_out(week: Any) -> None:
    """Else the tests here could not fail."""
    folder, truth = week
    jobs = [dict(job) for job in truth["jobs"]]
    healthy = next(job for job in jobs if job["ending"] == "completed" and job["machine"] == "doorway-1")
    healthy |= {"ended": healthy["ended"] + 60.0, "filament": healthy["filament"] * 1.1, "label": "failed"}
    missed = {**jobs[-1], "started": jobs[-1]["started"] + 4000.0}
    incident = {**truth["incidents"][0], "right": ["heat-runaway"]}
    told = {**truth, "jobs": [*jobs, missed], "incidents": [incident]}
    faults = "\n".join(bench("judged").judged(folder / "incidents.db", told).faults)
    for words in ("s, not", "mm, not", "labelled", "0 in the record", "told by none of heat-runaway"):
        assert words in faults


def test_each_kind_of_incident_has_happened_and_its_alarm_was_told(week: Any, judged: Any) -> None:
    """What shows on the wire is told; the worn sheet and the job that `check` refused are seen by people alone."""
    _, truth = week
    assert {one["name"] for one in truth["incidents"]} == EVERY_KIND
    assert {one["name"] for one in truth["incidents"] if not one["right"]} == {"sheet-worn"}
    assert all(one["seen_by"] == "alarm" for one in truth["incidents"] if one["right"])
    assert len(judged.right) >= len(EVERY_KIND) - 1
    assert judged.wrong == ()


def test_nobody_is_told_the_same_twice(week: Any) -> None:
    """A message too many is how people learn to look away."""
    folder, _ = week
    with Reader.read(folder / "incidents.db") as record:
        messages = record.messages()
    said = Counter((one.machine, one.alarm, one.occurrence, one.kind, one.nth, one.person) for one in messages)
    assert messages
    assert {times for what, times in said.items() if what[3] is not TellKind.NOTICE} == {1}
    assert all(one.delivered is not None or one.given_up is not None for one in messages)


def test_check_refuses_the_job_that_would_have_ended_after_closing(week: Any) -> None:
    """The hull mould half takes 4 h 40 and closing is at 21:00: started at half past four it would run on alone."""
    folder, truth = week
    (refused,) = truth["refused"]

    def check(start: float) -> int:
        told = ("--start", datetime.fromtimestamp(start, UTC).isoformat(), "--config", str(folder / "emberward.toml"))
        command = (sys.executable, "-m", "watchdog", "check", str(folder / "jobs" / refused["file"]), *told)
        return subprocess.run(
            [*command, "--machine", refused["machine"]], cwd=ROOT, stdout=subprocess.DEVNULL
        ).returncode

    assert check(refused["at"]) == 1
    assert check(refused["at"] - 3 * 3600.0) == 0
    started = [job["started"] for job in truth["jobs"] if job["file"] == refused["file"]]
    assert all(abs(one - refused["at"]) > 600.0 for one in started)


def test_the_record_opens_again_and_goes_on(week: Any) -> None:
    """The folder is a service's own: a watch that starts on it finds both worlds and nothing standing."""
    folder, truth = week
    record = Record.open(folder / "incidents.db", Moment(0.0, 0.0))
    try:
        assert record.rescued is None
        assert record.world("doorway-1") is not None
        assert record.world("loft-1") is not None
        assert record.standing() == ()
        assert len(record.sheets()) == truth["sheets"]
        assert len(record.spools()) == truth["spools"]
    finally:
        record.close()


def test_the_same_seed_gives_the_same_incidents(week: Any) -> None:
    drawn = bench("incidents").drawn
    assert drawn(14, "doorway-1", 1) == drawn(14, "doorway-1", 1) != drawn(14, "doorway-1", 2)


def test_figures_recomputed_from_the_export_equal_those_of_the_review(week: Any, tmp_path: Path) -> None:
    """Anybody can work them out anew; a figure that differs would be a figure that nobody can trust."""
    folder, truth = week
    made = bench("house")
    since, until = made.stamp(made.FIRST, 0), made.stamp(made.days(WEEKS)[-1], 1440)
    house = house_of(load(folder / "emberward.toml", addresses="not needed"))
    (tmp_path / "export").mkdir()
    with Reader.read(folder / "incidents.db") as record:
        write(record, tmp_path / "export", "2026-12-18T18:00:00Z")
        with record.one_moment():
            review = figures(recorded(record, since, until, house), since, until, house)
    again = figures(exported(tmp_path / "export", since, until, house), since, until, house)
    assert plain(again) == plain(review)
    assert again == review
    assert review.jobs.jobs == len(truth["jobs"])
    assert review.losses.failed == sum(job["label"] == "failed" for job in truth["jobs"])
