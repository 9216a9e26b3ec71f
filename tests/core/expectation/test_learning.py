"""What a past job teaches, and which ones teach nothing."""

from collections.abc import Callable
from dataclasses import replace
from math import exp, inf, isclose, nan
from typing import Any

import pytest
from pydantic import TypeAdapter

from watchdog.core.expectation import History, Past, learn, refusal, remember, spread
from watchdog.core.expectation.history import KEPT
from watchdog.core.snapshot import Job

Running = Callable[..., Job]
PlannedFor = Callable[..., Any]


def done(running: Running, took: float = 8000.0, **changes: Any) -> Job:
    return running(ended=1000.0 + took, ending="completed", **changes)


def test_a_job_teaches_its_work_and_its_heat_apart(running: Running, planned: PlannedFor) -> None:
    job = done(running, 8000.0, held=100.0, heating=400.0)
    history = learn(History(), job, planned(7200.0, heat=300.0))
    assert history.jobs == (Past(7500.0, 400.0, 7200.0, 300.0, 10_000),)
    assert history.ratios == (7500 / 7200,)
    assert history.heat_ratios == (400 / 300,)
    assert history.same_size(10_000) == (7900,)


@pytest.mark.parametrize(
    ("changes", "blind", "why"),
    [
        ({"ending": "abandoned"}, 0.0, "not completed"),
        ({"ending": "lost"}, 0.0, "not completed"),
        ({"ended": None, "ending": None}, 0.0, "not completed"),
        ({}, 200.0, "not seen"),
        ({"held": 3000.0}, 0.0, "held long"),
        ({"held": 9000.0}, 0.0, "no time of its own"),
        ({"ended": 1000.0 + 1700.0}, 0.0, "unlike its plan"),
        ({"ended": 1000.0 + 29_000.0}, 0.0, "unlike its plan"),
    ],
)
def test_a_job_that_tells_nothing_of_the_machine_is_refused(
    running: Running, planned: PlannedFor, changes: dict[str, Any], blind: float, why: str
) -> None:
    """One job left for the night would else make every later one look quick."""
    job = running(**({"ended": 9000.0, "ending": "completed"} | changes))
    before = History((Past(7200.0, 0.0, 7200.0),))
    assert refusal(job, planned(7200.0), blind) == why
    assert learn(before, job, planned(7200.0), blind) is before


def test_limits_of_what_may_be_unseen_or_held(running: Running, planned: PlannedFor) -> None:
    plan = planned(7200.0)
    assert refusal(done(running), plan, blind=160.0) is None
    assert refusal(done(running), plan, blind=161.0) == "not seen"
    assert refusal(done(running, held=1600.0), plan) is None
    assert refusal(done(running, held=1601.0), plan) == "held long"
    assert refusal(done(running, 50.0), planned(50.0)) == "short"


def test_a_job_without_a_plan_teaches_what_its_size_takes(running: Running) -> None:
    history = learn(History(), done(running, 5000.0, heating=300.0), None)
    assert history.ratios == ()
    assert history.same_size(10_000) == (5000.0,)


def test_the_history_is_bounded_and_drops_the_oldest() -> None:
    history = History()
    for nth in range(1, KEPT + 31):
        history = remember(history, Past(float(nth), 0.0, 1.0))
    assert len(history.jobs) == KEPT
    assert history.ratios[0] == 31.0
    overlong = History(history.jobs * 3)
    assert len(overlong.ratios) == KEPT


@pytest.mark.parametrize("span", [nan, inf, -1.0])
def test_a_damaged_history_teaches_only_what_is_whole(span: float) -> None:
    good = Past(100.0, 5.0, 90.0, 4.0, 7)
    bad = replace(good, real=span)
    history = History((good, bad, Past(100.0, span, 90.0), Past(100.0, 5.0, span), Past(0.0, 5.0, 90.0)))
    assert history.ratios == (100 / 90,)
    assert history.same_size(7) == (105.0,)
    assert remember(History(), bad) == History()


def test_a_history_goes_to_json_and_back() -> None:
    kept = TypeAdapter(History)
    history = History((Past(7500.5, 400.25, 7200.125, 300.0, 812_345), Past(5000.0, 0.0)))
    assert kept.validate_json(kept.dump_json(history)) == history
    assert kept.validate_json(kept.dump_json(History())) == History()


# ---------------------------------------------------------------- the ratio


def test_nothing_known_is_the_plan_and_its_margins() -> None:
    ratio = spread(())
    assert (ratio.low, ratio.middle, ratio.high, ratio.margin, ratio.jobs) == (0.8, 1.0, 1.25, 300.0, 0)


def test_the_first_jobs_are_believed_a_little() -> None:
    """Two jobs that took 1.44 as long: half way, in logarithms, between the plan and what was seen."""
    ratio = spread((1.44, 1.44))
    assert isclose(ratio.middle, 1.2)
    assert isclose(ratio.high, 1.5)
    assert ratio.low == ratio.middle / 1.25
    assert spread((1.9,)).high == 1.9
    assert spread((0.3,)).low == 0.3
    assert not spread((1.44,) * 18).by_ranks


def test_nineteen_jobs_bound_the_next_by_the_smallest_and_the_largest() -> None:
    ratios = [1 + nth / 100 for nth in range(19)]
    ratio = spread(ratios)
    assert ratio.by_ranks
    assert (ratio.low, ratio.high, ratio.late, ratio.margin) == (1.0, 1.18, 1.18, 0.0)
    assert isclose(ratio.middle, 1.09)


def test_over_and_under_run_weigh_the_same() -> None:
    assert isclose(spread([2.0, 0.5] * 10).middle, 1.0)


def test_one_wild_job_moves_neither_the_middle_nor_the_bounds_and_does_not_deafen_job_late() -> None:
    calm = [exp(0.03 * ((nth * 7) % 11 - 5) / 5) for nth in range(60)]
    before, after = spread(calm), spread([*calm, 3.9])
    assert abs(after.middle - before.middle) < 0.01
    assert after.high <= before.high * 1.001
    assert after.late <= after.high**2 / after.middle < 1.1


def test_a_machine_that_was_warm_already_is_no_error() -> None:
    assert spread([0.0] * 20).middle > 0
