"""Intervals of a share, the rule of three and success runs, at the printed precision of published values."""

from collections.abc import Callable
from math import isclose
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.statistics.proportions import clopper_pearson, lower_bound, rule_of_n, success_run, upper_bound, wilson

Prints = Callable[..., None]

# output of the R package binom as kept in the test suite of statsmodels; the /30 rows are printed to 7 or 8 digits there
BINOM = [
    (18, 20, "0.6989663548 0.9721335188", "0.6830172860 0.9876514728"),
    (4, 20, "0.0806576626 0.4160174323", "0.0573339971 0.4366140030"),
    (4, 200, "0.0078044264 0.0502870869", "0.0054755659 0.0504136091"),
    (190, 200, "0.9104218519 0.9726173544", "0.9099724623 0.9757658345"),
    (1, 30, "0.0059085904 0.1667039099", "0.0008435709 0.1721694556"),
    (29, 30, "0.8332960901 0.9940914096", "0.8278305444 0.9991564291"),
    (0, 30, "0 0.1135133932", "0 0.1157033082"),
    (30, 30, "0.8864866068 1", "0.8842966918 1"),
    # help page of the R package EnvStats
    (7, 20, "0.1811918 0.5671457", "0.1539092 0.5921885"),
]


@pytest.mark.parametrize(("successes", "trials", "by_wilson", "exact"), BINOM)
def test_both_intervals_are_as_published(
    successes: int, trials: int, by_wilson: str, exact: str, prints: Prints
) -> None:
    prints(wilson(successes, trials), by_wilson)
    prints(clopper_pearson(successes, trials), exact)


def test_four_defectives_in_twenty_at_ninety_per_cent(prints: Prints) -> None:
    """Data of NIST/SEMATECH e-Handbook 7.2.4.2; the limits recomputed with scipy."""
    prints(clopper_pearson(4, 20, 0.90), "0.0713538843 0.4010281173")
    prints(wilson(4, 20, 0.90), "0.0931180166 0.3783766858")


@pytest.mark.parametrize(
    ("trials", "exact", "two_sided", "by_wilson"),
    [
        (10, "0.258866", "0.308497", "0.277533"),
        (20, "0.139108", "0.168433", "0.161125"),
        (50, "0.058155", "0.071122", "0.071348"),
        (299, "0.00996915", "0.0122616", "0.0126847"),
        (1500, "0.00199516", "0.00245623", "0.00255443"),
    ],
)
def test_no_failure_in_n_trials(trials: int, exact: str, two_sided: str, by_wilson: str, prints: Prints) -> None:
    """Recomputed with scipy; 3/n is the rule of three (Hanley & Lippman-Hand 1983)."""
    prints(upper_bound(0, trials), exact)
    prints(clopper_pearson(0, trials)[1], two_sided)
    prints(wilson(0, trials)[1], by_wilson)
    assert upper_bound(0, trials) < rule_of_n(trials) < 3 / trials


def test_the_numerators_of_the_rule_at_other_confidences(prints: Prints) -> None:
    """3.51, 4.61 and 5.3 are the published numerators for 97, 99 and 99.5 %."""
    prints((rule_of_n(1, 0.97), rule_of_n(1, 0.99)), "3.51 4.61")
    prints(rule_of_n(1, 0.995), "5.3")


@pytest.mark.parametrize(
    ("reliability", "confidence", "trials"),
    [
        (0.80, 0.95, 14),
        (0.90, 0.90, 22),
        (0.90, 0.95, 29),
        (0.90, 0.99, 44),
        (0.95, 0.90, 45),
        (0.95, 0.95, 59),
        (0.95, 0.99, 90),
        (0.98, 0.95, 149),
        (0.99, 0.90, 230),
        (0.99, 0.95, 299),
        (0.99, 0.99, 459),
        (0.999, 0.95, 2995),
    ],
)
def test_successes_in_a_row_that_show_a_reliability(reliability: float, confidence: float, trials: int) -> None:
    assert success_run(reliability, confidence) == trials


def test_299_is_tight_and_failures_cost_more_trials() -> None:
    """59, 93 and 124 also stand on the help page of the R package EnvStats."""
    assert 0.99**299 <= 0.05 < 0.99**298
    assert [success_run(0.99, 0.95, allowed) for allowed in (1, 2)] == [473, 628]
    assert [success_run(0.95, 0.95, allowed) for allowed in (0, 1, 2)] == [59, 93, 124]


def test_the_intervals_agree_with_scipy() -> None:
    stats: Any = pytest.importorskip("scipy.stats")
    for successes, trials in ((0, 7), (3, 7), (396, 400), (1, 5000), (77, 91)):
        for confidence in (0.6, 0.95, 0.999):
            test = stats.binomtest(successes, trials)
            for found, method in ((wilson, "wilson"), (clopper_pearson, "exact")):
                wanted = test.proportion_ci(confidence, method)
                low, high = found(successes, trials, confidence)
                assert isclose(low, wanted.low, rel_tol=1e-9, abs_tol=1e-11)  # scipy searches its root to about that
                assert isclose(high, wanted.high, rel_tol=1e-9)


@given(st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.floats(0.5, 0.999))
def test_an_interval_holds_its_share_stays_in_range_and_mirrors(count: tuple[int, int], confidence: float) -> None:
    successes, trials = count
    for interval in (wilson, clopper_pearson):
        low, high = interval(successes, trials, confidence)
        assert 0 <= low <= successes / trials <= high <= 1
        mirrored = interval(trials - successes, trials, confidence)
        assert isclose(1 - mirrored[1], low, abs_tol=1e-9)
    assert (
        lower_bound(successes, trials, confidence) <= successes / trials <= upper_bound(successes, trials, confidence)
    )


@pytest.mark.parametrize(("successes", "trials", "confidence"), [(-1, 5, 0.9), (6, 5, 0.9), (0, 0, 0.9), (1, 5, 1.0)])
def test_an_impossible_count_is_refused(successes: int, trials: int, confidence: float) -> None:
    for interval in (wilson, clopper_pearson, upper_bound, lower_bound):
        with pytest.raises(ValueError, match=r"needs|between"):
            interval(successes, trials, confidence)
