"""The bounds hold as often as they say, whatever makes jobs differ; and the time left behaves.

Simulated machines with fixed seeds. Each share is checked with a margin of four standard errors, so that a bound which
is too narrow fails, and one that is far too wide as well.
"""

from collections.abc import Callable
from itertools import pairwise
from math import exp, sqrt
from random import Random
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from watchdog.core.expectation import History, Past, forecast, prospect, spread
from watchdog.core.expectation.left import by_clock, by_progress
from watchdog.core.moment import Moment
from watchdog.core.snapshot import Job

Running = Callable[..., Job]
PlannedFor = Callable[..., Any]
Draw = Callable[[Random], float]

ROUNDS = 4000


def lognormal(draw: Random) -> float:
    return exp(draw.gauss(0.08, 0.05))


def skewed(draw: Random) -> float:
    return 0.95 + draw.expovariate(12)


def with_wild_ones(draw: Random) -> float:
    return exp(draw.gauss(0.0, 0.03)) * (draw.uniform(1.2, 3.0) if draw.random() < 0.04 else 1.0)


def two_kinds(draw: Random) -> float:
    return exp(draw.gauss(0.0, 0.02)) * draw.choice((1.0, 1.3))


def off_by(share: float) -> float:
    return 4 * sqrt(share * (1 - share) / ROUNDS)


@pytest.mark.parametrize("law", [lognormal, skewed, with_wild_ones, two_kinds])
@pytest.mark.parametrize("jobs", [19, 40, 100])
def test_at_its_start_a_job_stays_below_and_above_its_bounds_as_often_as_stated(law: Draw, jobs: int) -> None:
    """95 % on each side; order statistics of n jobs are at most 1/(n+1) on the wide side of that."""
    draw = Random(jobs)
    below = above = late = 0
    for _ in range(ROUNDS):
        ratio = spread([law(draw) for _ in range(jobs)])
        left = by_progress(ratio, 7200.0, 0.0, 0.0)
        truth = 7200 * law(draw)
        below += truth <= left.high
        above += truth >= left.low
        late += truth > 7200 * ratio.late
    for held in (below, above):
        assert 0.95 - off_by(0.95) <= held / ROUNDS <= 0.95 + 1 / (jobs + 1) + off_by(0.95)
    assert late / ROUNDS <= 1 / (jobs + 1) + (0.02 if law is with_wild_ones else 0.005) + off_by(0.05)


@pytest.mark.parametrize("share", [0.1, 0.25, 0.5, 0.75, 0.9, 0.98])
@pytest.mark.parametrize("alike", [0.0, 0.5, 1.0])
def test_within_a_job_the_bounds_hold_whether_jobs_differ_as_a_whole_or_minute_by_minute(
    share: float, alike: float
) -> None:
    """`alike`: how much of the variance lies in the job as a whole. The other part is independent along the job."""
    draw = Random(int(100 * share + 1000 * alike))
    wide = 0.06
    held = widths = started = 0.0
    for _ in range(ROUNDS):
        ratio = spread([1 + wide * draw.gauss(0, 1) for _ in range(40)])
        whole_job = wide * sqrt(alike) * draw.gauss(0, 1)
        along = wide * sqrt(1 - alike)
        first = share * (1 + whole_job) + along * sqrt(share) * draw.gauss(0, 1)
        rest = (1 - share) * (1 + whole_job) + along * sqrt(1 - share) * draw.gauss(0, 1)
        left = by_progress(ratio, 1.0, share, first)
        held += left.low <= rest <= left.high
        widths += left.high - left.low
        started += ratio.high - ratio.low
    assert held / ROUNDS >= 0.90 - off_by(0.90)
    assert widths < 1.1 * started * sqrt(1 - share) * sqrt(1 + share)


def test_progress_narrows_the_interval_in_a_real_forecast(running: Running, planned: PlannedFor) -> None:
    draw = Random(11)
    history = History(tuple(Past(7200 * lognormal(draw), 0.0, 7200.0) for _ in range(60)))
    widths = []
    for byte in range(0, 10_000, 500):
        job = running(progress=byte, building_since=1000.0)
        told = forecast(Moment(1000.0 + 1.08 * 0.72 * byte, 0.0), job, prospect(history, planned(7200.0)))
        assert told is not None
        widths.append(told.left.high - told.left.low)
    assert widths == sorted(widths, reverse=True)
    assert widths[-1] < 0.4 * widths[0]


ratios = st.lists(st.floats(0.3, 3.5), max_size=100)


@given(ratios, st.floats(60, 200_000), st.floats(0, 1.2), st.floats(0, 400_000))
@example([], 60.0, 0.5, 5e-324)
def test_nothing_is_ever_negative_and_the_bounds_keep_their_order(
    past: list[float], whole: float, share: float, taken: float
) -> None:
    ratio = spread(past)
    assert 0 < ratio.low <= ratio.middle <= ratio.high <= ratio.late
    for left in (by_progress(ratio, whole, share * whole, taken), by_clock(ratio, whole, taken)):
        assert 0 <= left.low <= left.middle <= left.high < 1e8


@given(ratios, st.floats(0, 1), st.lists(st.floats(0, 1), min_size=2, max_size=30))
def test_at_a_steady_pace_that_the_past_knows_the_time_left_only_falls(
    past: list[float], place: float, shares: list[float]
) -> None:
    ratio = spread(past)
    pace = ratio.low + place * (ratio.high - ratio.low)
    lefts = [by_progress(ratio, 7200.0, share * 7200, pace * share * 7200) for share in sorted(shares)]
    slack = 1e-6
    if max(pace / ratio.middle, ratio.middle / pace) < 2.7:  # beyond that it rises while the slow pace is being learnt
        for earlier, later in pairwise(lefts):
            assert later.middle <= earlier.middle + slack
    assert by_progress(ratio, 7200.0, 7200.0, 7200.0) == (0.0, 0.0, 0.0)


@given(ratios, st.floats(0.01, 0.99), st.floats(0.3, 3.0))
def test_the_interval_is_never_narrower_than_the_pasts_cut_down_to_what_is_left(
    past: list[float], share: float, pace: float
) -> None:
    ratio = spread(past)
    left = by_progress(ratio, 7200.0, share * 7200, pace * share * 7200)
    assert left.high - left.middle >= (1 - share) * 7200 * (ratio.high - ratio.middle) - 1e-6
    assert left.low == 0 or left.middle - left.low >= (1 - share) * 7200 * (ratio.middle - ratio.low) - 1e-6


@pytest.mark.parametrize("pace", [0.5, 1.8, 2.5])
def test_a_job_unlike_the_past_is_found_out_within_its_first_half(pace: float) -> None:
    """The finish told at half time misses the true one by less than a tenth of what is left."""
    ratio = spread([1 + 0.01 * (nth % 9 - 4) for nth in range(40)])
    left = by_progress(ratio, 7200.0, 3600.0, pace * 3600)
    assert abs(left.middle - pace * 3600) < 0.1 * pace * 3600


def test_what_is_left_of_a_job_twice_as_slow_is_twice_as_uncertain() -> None:
    """Its minutes are longer, and so are their errors; a quick job's interval stays as wide as the past's."""
    ratio = spread([1 + 0.01 * (nth % 9 - 4) for nth in range(40)])
    usual, slow, quick = (
        by_progress(ratio, 7200.0, 6000.0, pace * 6000) for pace in (ratio.middle, 2 * ratio.middle, 0.5)
    )
    assert (slow.high - slow.low) / (usual.high - usual.low) == pytest.approx(2, rel=0.03)
    assert quick.high - quick.middle == pytest.approx(usual.high - usual.middle)
