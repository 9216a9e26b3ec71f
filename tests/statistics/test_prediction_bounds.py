"""Distribution-free and lognormal prediction against EPA 2009 and the help pages of the R package EnvStats."""

from collections.abc import Callable
from math import exp
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.statistics.prediction import (
    chance_inside,
    coverage_confidence,
    lognormal_below,
    lognormal_between,
    next_above,
    next_below,
    next_between,
    past_needed,
    past_needed_to_cover,
)

Prints = Callable[..., None]

EPA_18_2 = (6.9, 27.3, 10.8, 8.9, 15.1, 7.2, 48.4, 7.8)  # EPA 530/R-09-007, example 18-2, p. 18-15


def test_values_needed_to_cover_a_share() -> None:
    """Help pages of EnvStats: Wilks' 59 one-sided, 93 two-sided, and further ranks."""
    assert [past_needed_to_cover(0.95, 0.95, left_out) for left_out in range(1, 7)] == [59, 93, 124, 153, 181, 208]
    confidences = (0.5, 0.6, 0.7, 0.8, 0.9)
    assert [past_needed_to_cover(0.95, confidence, 2) for confidence in confidences] == [34, 40, 49, 59, 77]
    assert [past_needed_to_cover(coverage, 0.95, 2) for coverage in confidences] == [8, 10, 14, 22, 46]


def test_confidence_of_the_extremes(prints: Prints) -> None:
    prints(100 * coverage_confidence(20, 19, 0.90), "60.8253")
    # EPA 2009, example 17-4, p. 17-21: the largest of 24 covers 0.8826538 with 95 % confidence
    prints(coverage_confidence(24, 24, 0.8826538), "0.950000")


def test_chances_of_values_to_come(prints: Prints) -> None:
    """Smallest to largest of 20: the next one, the next five, three of five (EnvStats)."""
    prints(100 * chance_inside(20, 19), "90.47619")
    prints(100 * chance_inside(20, 19, 5), "63.33333")
    prints(100 * chance_inside(20, 19, 5, at_least=3), "98.37945")
    prints(chance_inside(18, 18, 4), "0.8181818")  # EPA 2009, example 18-3, p. 18-19: the next four below the largest


def test_past_values_needed_for_those_to_come() -> None:
    """EnvStats; where it says 100 for rank 4 the chance is met exactly at 99 already."""
    assert [past_needed(chance, 2) for chance in (0.5, 0.6, 0.7, 0.8, 0.9)] == [3, 4, 6, 9, 19]
    assert [past_needed(0.95, 2, following) for following in range(1, 6)] == [39, 78, 116, 155, 193]
    assert [past_needed(0.95, 2, 5, at_least) for at_least in range(1, 6)] == [4, 7, 13, 30, 193]
    assert [past_needed(0.95, left_out) for left_out in range(2, 7)] == [39, 59, 79, 99, 119]
    assert past_needed(0.90, 1, 4) == 36


def test_nineteen_jobs_bound_the_next_at_95_per_cent_and_ninety_nine_at_99() -> None:
    assert (past_needed(0.95, 1), past_needed(0.99, 1)) == (19, 99)
    past = [float(nth) for nth in range(1, 20)]
    assert next_below(past, 0.95) == 19.0
    assert next_below(past[:-1], 0.95) is None
    assert next_above(past, 0.95) == 1.0
    assert next_between(past, 0.90) == (1.0, 19.0)
    assert next_between(past[:-1], 0.90) is None
    assert next_between(past * 2, 0.95) is None
    assert next_between([*past * 2, 0.0], 0.95) == (0.0, 19.0)


@pytest.mark.parametrize("chance", [0.5, 0.8, 0.9, 0.95])
def test_the_next_value_stays_below_its_bound_as_often_as_stated(chance: float) -> None:
    """20,000 skewed samples with a fixed seed: at least the stated share, and no more than one block above it."""
    draw = Random(7)
    past, rounds = 25, 20_000
    below = 0
    for _ in range(rounds):
        values = [exp(draw.gauss(0, 1) + 0.5 * draw.random()) for _ in range(past + 1)]
        bound = next_below(values[:-1], chance)
        assert bound is not None
        below += values[-1] < bound
    assert chance - 0.01 < below / rounds < chance + 1 / (past + 1) + 0.01


@given(st.lists(st.floats(-100, 100), min_size=1, max_size=60), st.floats(0.05, 0.99))
def test_bounds_mirror_and_keep_their_order(past: list[float], chance: float) -> None:
    above, below = next_above(past, chance), next_below(past, chance)
    assert (above is None) == (below is None)
    if above is not None and below is not None and chance > 0.5:
        assert min(past) <= above <= below <= max(past)


def test_lognormal_intervals(prints: Prints) -> None:
    """EPA 2009, example 18-2: the upper 99 % limit for a geometric mean of four; one new value recomputed."""
    prints(lognormal_below(EPA_18_2, 0.99, mean_of=4), "46.96613")
    prints(lognormal_between(EPA_18_2, 0.95), "2.187149 75.490166")


def test_impossible_questions_are_refused() -> None:
    for blocks, following in ((0, 1), (6, 1), (3, 0)):
        with pytest.raises(ValueError, match="blocks"):
            chance_inside(5, blocks, following)
