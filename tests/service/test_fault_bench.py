"""The fault bench: its sums against results made by hand, and the same seeds, the same table."""

import csv
import importlib
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from watchdog.core.detectors import MACHINE
from watchdog.core.traffic import Direction
from watchdog.simulator.faults import FAULTS
from watchdog.simulator.population import draw
from watchdog.simulator.scenes import SCENES
from watchdog.statistics.proportions import clopper_pearson
from watchdog.statistics.rates import rate_interval, rate_upper

ROOT = Path(__file__).parents[2]


@pytest.fixture
def bench(monkeypatch: pytest.MonkeyPatch) -> Any:
    """The bench's modules by their names; they lie outside the package."""
    monkeypatch.syspath_prepend(str(ROOT))

    def module(name: str) -> Any:
        return importlib.import_module(f"tests.bench.faults.{name}")

    return module


def outcome(bench: Any, seed: int, *raised: tuple[str, float], onset: float | None = 100.0, **more: Any) -> Any:
    """A recording of the fault 'stall', half an hour long."""
    made = bench("outcome")
    told = tuple(made.Told(alarm, at, "high") for alarm, at in raised)
    whole: dict[str, Any] = {"fault": "stall", "traits": (), "hours": 0.5, **more}
    return made.Outcome(
        seed=seed, family="A", onset=onset, raised=told, annunciated=told, grown=(), standing=0, **whole
    )


def case(bench: Any) -> Any:
    return next(each for each in bench("cases").CASES if each.fault == "stall")


def test_a_fault_is_counted_as_done_by_hand(bench: Any) -> None:
    """Five struck: two in time (300 and 310 s), one late (500 s), one told by a wrong alarm alone, one by none."""
    outcomes = [
        outcome(bench, 1, ("job-stalled", 400.0)),
        outcome(bench, 2, ("hot-idle", 390.0), ("job-stalled", 410.0)),
        outcome(bench, 3, ("job-stalled", 600.0)),
        outcome(bench, 4, ("hot-idle", 300.0)),
        outcome(bench, 5),
        outcome(bench, 6, onset=None),
    ]
    row = bench("sums").fault_row(case(bench), outcomes)
    assert case(bench).must_by == 450
    assert (row.trials, row.not_struck, row.detected, row.late) == (5, 1, 2, 1)
    assert (row.low, row.high) == clopper_pearson(2, 5)
    assert (row.delay_median, row.delay_p95, row.delay_max) == (310.0, 500.0, 500.0)
    assert (row.first_right, row.with_alarm) == (2, 4)
    assert row.annunciations == pytest.approx(1.0)
    assert row.wrong == (("hot-idle", 2),)


def test_an_alarm_from_before_the_fault_does_not_count_as_its_detection(bench: Any) -> None:
    """It called somebody for nothing, and is silent when it matters."""
    row = bench("sums").fault_row(case(bench), [outcome(bench, 1, ("job-stalled", 50.0))])
    assert (row.detected, row.with_alarm, row.delay_median) == (0, 0, None)


def test_a_fault_that_struck_nowhere_has_no_row(bench: Any) -> None:
    assert bench("sums").fault_row(case(bench), [outcome(bench, 1, onset=None)]) is None


def healthy(bench: Any) -> list[Any]:
    """Four recordings of 250 h, three false alarms, two of them on the machine with a slow bed."""
    plain: dict[str, Any] = {"fault": "", "onset": None, "hours": 250.0}
    return [
        outcome(bench, 1, ("job-not-started", 10.0), ("job-not-started", 9000.0), **{**plain, "traits": ("slow bed",)}),
        outcome(bench, 2, ("hot-idle", 10.0), **plain),
        outcome(bench, 3, **plain),
        outcome(bench, 4, **plain),
    ]


def test_false_alarms_are_told_for_a_thousand_hours(bench: Any) -> None:
    rows = {row.what: row for row in bench("sums").healthy_rows(healthy(bench))}
    assert rows["all conditions"].alarms == 3
    assert rows["all conditions"].per_1000_h == pytest.approx(3.0)
    assert rows["all conditions"].upper == pytest.approx(rate_upper(3, 1.0))
    assert rows["alarm job-not-started"].alarms == 2
    assert rows["machines: slow bed"].per_1000_h == pytest.approx(8.0)
    assert rows["machines: nothing special"].hours == 750.0
    assert rows["machines: nothing special"].per_1000_h == pytest.approx(1000 / 750)


def test_the_load_on_people_is_counted_a_shift(bench: Any) -> None:
    load = bench("sums").load(healthy(bench))
    assert (load.shifts, load.annunciations, load.a_shift) == (125.0, 3, pytest.approx(3 / 125))
    assert (load.floods, load.chattering, load.split) == (0, 0, None)


def test_floods_and_chatter_are_found(bench: Any) -> None:
    """Eleven messages in ten minutes bury the one that matters; three of one alarm in a minute teach people to ignore it."""
    calm = outcome(bench, 1, *(("hot-idle", 61.0 * nth) for nth in range(10)), fault="", onset=None)
    flooded = outcome(bench, 2, *((f"alarm-{nth}", 60.0 * nth) for nth in range(11)), fault="", onset=None)
    chattering = outcome(bench, 3, *(("hot-idle", 30.0 * nth) for nth in range(3)), fault="", onset=None)
    load = bench("sums").load([calm, flooded, chattering])
    assert (load.floods, load.chattering) == (1, 1)


def test_the_share_of_right_alarms_follows_from_both_rates(bench: Any) -> None:
    """One fault of a job: four incidents a year, of which 2 in 4 are told; one false alarm in 1,000 h is 0.65 a year."""
    sums = bench("sums")
    struck = [outcome(bench, nth, *([("job-stalled", 400.0)] if nth < 2 else [])) for nth in range(4)]
    row = sums.fault_row(case(bench), struck)
    days = [*healthy(bench)[2:], outcome(bench, 9, ("job-stalled", 5.0), fault="", onset=None, hours=500.0)]
    year = {each.alarm: each for each in sums.year_rows([case(bench)], {"stall": row}, days)}["job-stalled"]
    assert year.incidents == pytest.approx(4.0)
    assert year.right == pytest.approx(2.0)
    assert year.wrong == pytest.approx(0.65)
    assert year.share == pytest.approx(2.0 / 2.65)
    low, high = rate_interval(1, 1000.0 / 650.0)
    least, most = clopper_pearson(2, 4)
    assert (year.low, year.high) == pytest.approx((4 * least / (4 * least + high), 4 * most / (4 * most + low)))


def test_every_fault_of_the_machine_has_its_truth_in_the_bench(bench: Any) -> None:
    cases = bench("cases").CASES
    assert {each.fault for each in cases if not each.scene} == set(FAULTS)
    assert {each.fault for each in cases if each.scene} == set(SCENES)
    assert len({each.name for each in cases}) == len(cases)


def named(bench: Any, name: str) -> Any:
    return next(each for each in bench("cases").CASES if each.name == name)


@pytest.mark.parametrize(
    "name",
    [
        "bytes-lost, streamed",
        "cable-noisy, streamed",
        "computer-asleep, streamed",
        "frozen-extruding, streamed",
        "nozzle-jam, streamed, motion sensor",
        "places-lost, streamed",
        "program-gone, streamed",
        "restart, streamed",
        "run-out-unseen, streamed, motion sensor",
        "tangle, streamed, motion sensor",
    ],
)
def test_what_goes_wrong_with_a_streamed_job_is_told_in_time(bench: Any, name: str) -> None:
    """The nozzle stands hot over the part, or prints air, and the one computer that knows of the job is part of the trouble."""
    case = named(bench, name)
    made, running = bench("outcome"), bench("running")
    told = []
    for seed in (running.TUNING, running.TUNING + 1):
        machine, recording, onset = made.faulty(case, seed)
        assert onset is not None
        after = bench("sums").delay(case, made.judged(case.name, machine, recording, onset, {}))
        told.append(after is not None and after <= case.must_by)
    if case.fault == "tangle":  # a spool that lets go after 35 s may do so before enough is missing
        assert any(told)
    else:
        assert all(told)


def test_without_a_sensor_a_jam_does_not_look_like_slipping_feed(bench: Any) -> None:
    """What nobody measures must not be claimed."""
    made = bench("outcome")
    machine, recording, onset = made.faulty(named(bench, "nozzle-jam"), bench("running").TUNING)
    assert recording.readings == []
    assert "feed-slipping" not in {
        told.alarm for told in made.judged("nozzle-jam", machine, recording, onset, {}).raised
    }


@pytest.mark.parametrize("name", ["slow-bed", "slow-bed, streamed", "second-job-at-once, streamed", "summer-time"])
def test_what_only_looks_like_a_fault_calls_nobody(bench: Any, name: str) -> None:
    """Each false alarm takes somebody out of a lesson."""
    case = named(bench, name)
    made, running = bench("outcome"), bench("running")
    _, (judged,) = running.work(running.Task(case, running.TUNING))
    assert judged.hours > 0.2
    assert [told.alarm for told in judged.raised] == []
    assert made.faulty(case, running.TUNING)[1].ends, "the job never ended, so nothing was tried"


def test_healthy_streams_are_part_of_what_is_measured(bench: Any) -> None:
    """Noisy cables among them: alarms of streams would else be judged by machines that never stream."""
    drawn = [draw(task.seed) for task in bench("running").reported(1, 800.0) if task.case is None]
    streamed = [machine for machine in drawn if machine.streaming is not None]
    assert 0.1 < len(streamed) / len(drawn) < 0.3
    assert any("noisy cable" in machine.traits for machine in streamed)
    machine, recording = bench("outcome").healthy(next(one.seed for one in streamed if one.options.bit_errors), 1.0)
    assert sum(line.direction is Direction.SENT for line in recording.lines) > 500
    judged = bench("outcome").judged("", machine, recording, None, {})
    assert [told.alarm for told in judged.raised] == []


def test_a_condition_that_is_mostly_wrong_is_named(bench: Any) -> None:
    """One rightly, three wrongly a year: 25 %, so people would learn to look away."""
    sums, writing = bench("sums"), bench("writing")
    worse = sums.YearRow("job-late", 1.0, 1.0, 3.0, 0.25, 0.1, 0.5, 6.0)
    better = sums.YearRow("hot-idle", 1.0, 1.0, 0.3, 1 / 1.3, 0.1, 0.9, 6.0)
    unknown = sums.YearRow("spool-short", 0.0, 0.0, 0.0, None, 0.0, 1.0, 6.0)
    assert (worse.below, better.below, unknown.below) == (True, False, None)
    assert worse._replace(false_seen=4).below is None  # so few may be chance
    assert worse._replace(incidents=0.0).below is None  # the bench holds no fault of its own
    limits = bench("main_limits").main_limits()
    report = writing.Report("", "", [], [], sums.load(healthy(bench)), [worse, better, unknown], [], limits)
    text = writing.markdown(report)
    assert "wrong, upper bound | Share right below 70 % |" in text
    assert "| job-late | 1.00 | 1.00 | 3.00 | 25 % | 10–50 % | 6.00 | yes: 25 % |" in text
    assert "| spool-short | 0.00 | 0.00 | 0.00 | – | 0–100 % | 6.00 | cannot tell |" in text
    assert "not to speak by default unless urgent: job-late (25 %)." in text


def test_every_condition_has_its_main_limit_named(bench: Any) -> None:
    """A curve over a limit that is none says nothing; what has no limit is told at once by the machine's own word."""
    rows = {row.alarm: row for row in bench("main_limits").main_limits()}
    assert set(rows) == {detector.NAME for detector in MACHINE}
    assert (rows["silent-hot"].limit, rows["silent-hot"].default, rows["silent-hot"].unit) == ("quiet", 20.0, "s")
    assert {name for name, row in rows.items() if row.limit is None} == {"controller-halted", "controller-restarted"}
    for trade in bench("running").TRADES:
        assert rows[trade.alarm].limit == trade.limit
        assert named(bench, trade.fault).right >= {trade.alarm}


def test_reported_and_tuning_seeds_are_different(bench: Any) -> None:
    """Limits that are judged on what they were tuned on look better than they are."""
    running = bench("running")
    reported = {(task.case is None, task.seed) for task in running.reported(500, 4000.0)}
    tuned = {(task.case is None, task.seed) for task in running.tuning(500, 4000.0)}
    assert not reported & tuned


def test_the_same_seeds_give_the_same_table(tmp_path: Path) -> None:
    """A figure that cannot be had again cannot be believed; and the command does what its help says."""
    words = [
        "--seeds",
        "2",
        "--hours",
        "4",
        "--tuning-seeds",
        "0",
        "--fault",
        "frozen-hot",
        "--fault",
        "port-reset",
        "--out",
    ]
    for name in ("one", "two"):
        command = [sys.executable, "-m", "tests.bench.faults", *words, str(tmp_path / name)]
        subprocess.run(command, cwd=ROOT, check=True, capture_output=True, timeout=110)
    one, two = ((tmp_path / name / "faults.csv").read_text() for name in ("one", "two"))
    assert one == two
    rows = {row["fault"]: row for row in csv.DictReader(one.splitlines())}
    assert set(rows) == {"frozen-hot", "port-reset"}
    assert rows["frozen-hot"]["trials"] == "2"
    assert "frozen-hot" in (tmp_path / "one" / "faults.md").read_text()
    drawings = [(tmp_path / name / "delays.svg").read_bytes() for name in ("one", "two")]
    assert drawings[0] == drawings[1]
