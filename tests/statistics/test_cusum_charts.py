"""CUSUM paths and run lengths against Lucas & Crosier 1982, SAS/QC, Lucas 1985, and a Markov chain of another make."""

from collections.abc import Callable
from math import isclose
from random import Random
from typing import Any

import pytest

from watchdog.statistics.count_cusum import (
    Chart,
    bernoulli_reference,
    bernoulli_run_length,
    design_bernoulli,
    design_poisson,
    poisson,
    poisson_reference,
    poisson_run_length,
    run_length,
)
from watchdog.statistics.cusum import first_above, path
from watchdog.statistics.run_length import limit_for, one_sided, siegmund, two_sided

Prints = Callable[..., None]

# Lucas & Crosier, Technometrics 24 (1982), Table 1: k = 0.5, h = 4, from zero and from a head start of 2
TABLE_1 = [
    (0.00, "168", "149"),
    (0.25, "74.2", "62.7"),
    (0.50, "26.6", "20.1"),
    (0.75, "13.3", "8.97"),
    (1.00, "8.38", "5.29"),
    (1.50, "4.75", "2.86"),
    (2.00, "3.34", "2.01"),
    (2.50, "2.62", "1.59"),
    (3.00, "2.19", "1.3254"),  # the print's 1.32 is cut off, not rounded
    (4.00, "1.71", "1.07"),
    (5.00, "1.31", "1.01"),
]


@pytest.mark.parametrize(("shift", "from_zero", "head_start"), TABLE_1)
def test_two_sided_run_lengths(shift: float, from_zero: str, head_start: str, prints: Prints) -> None:
    prints(two_sided(0.5, 4.0, shift), from_zero)
    prints(two_sided(0.5, 4.0, shift, start=2.0), head_start)


@pytest.mark.parametrize(
    ("shift", "from_zero", "head_start"),
    [  # recomputed by an integral equation and by a Markov chain
        (0.00, "465.444", "430.391"),
        (0.50, "37.996", "28.666"),
        (1.00, "10.376", "6.347"),
        (3.00, "2.573", "1.540"),
    ],
)
def test_two_sided_run_lengths_at_a_limit_of_five(
    shift: float, from_zero: str, head_start: str, prints: Prints
) -> None:
    prints(two_sided(0.5, 5.0, shift), from_zero)
    prints(two_sided(0.5, 5.0, shift, start=2.5), head_start)


@pytest.mark.parametrize(
    ("reference", "limit", "shift", "printed"),
    [
        (0.5, 3.0, 0.0, "117.596"),  # SAS/QC User's Guide, CUSUMARL, figure 6.11
        (0.5, 3.0, 1.0, "6.40391"),
        (0.5, 3.0, 1.5, "3.75"),  # Brook & Evans, Biometrika 59 (1972), section 4.3
        (0.5, 3.0, 0.5, "17.35"),  # Waldmann, Technometrics 28 (1986), tables 3 and 5
        (0.5, 3.0, -0.5, "1963"),
        (0.0, 10.0, -0.125, "400.28"),  # Vance, Journal of Quality Technology 18 (1986), table 1
        (0.0, 10.0, 0.0, "124.66"),
        (0.0, 10.0, 0.125, "59.30"),
        (0.0, 10.0, 0.25, "36.71"),
        (0.0, 10.0, 0.5, "20.37"),
        (0.0, 10.0, 1.0, "10.75"),
        (0.5, 4.0, 0.0, "335.368"),  # recomputed
        (0.5, 5.0, 0.0, "930.887"),
    ],
)
def test_one_sided_run_lengths(reference: float, limit: float, shift: float, printed: str, prints: Prints) -> None:
    prints(one_sided(reference, limit, shift), printed)


def test_run_lengths_far_from_zero_agree_with_the_sas_manual() -> None:
    """SAS/QC manual 1999, k = 0.25, h = 8, shift 2.5; its own digits are good to about 1e-6."""
    assert isclose(one_sided(0.25, 8.0, 2.5), 4.1500836225, rel_tol=1e-6)
    assert isclose(one_sided(0.25, 8.0, 2.5, start=0.1), 4.1061588131, rel_tol=1e-6)


def test_limits_for_a_run_length_near_370(prints: Prints) -> None:
    """Pairs of k and h in common use; run lengths recomputed."""
    for reference, limit, printed in ((0.25, 8.01, "370.33"), (0.5, 4.77, "368.56"), (1.0, 2.52, "372.82")):
        prints(two_sided(reference, limit), printed)


def test_a_limit_is_found_for_a_stated_false_alarm_rate() -> None:
    for wanted in (50.0, 370.0, 5000.0):
        assert isclose(one_sided(0.5, limit_for(wanted, 0.5)), wanted, rel_tol=1e-6)
        assert isclose(two_sided(0.5, limit_for(wanted, 0.5, both_sides=True)), wanted, rel_tol=1e-6)
    with pytest.raises(ValueError, match="64"):
        limit_for(1e9, 0.0)


def test_siegmunds_approximation(prints: Prints) -> None:
    prints(siegmund(0.5, 5.0), "938.222")
    prints(siegmund(0.5, 5.0) / 2, "469.111")
    assert siegmund(0.5, 4.0, 0.5) == 5.166**2


@pytest.mark.parametrize(("reference", "limit", "shift"), [(0.5, 3.0, 0.0), (0.25, 6.0, 0.5), (1.0, 2.5, 1.0)])
def test_the_integral_equation_agrees_with_a_markov_chain(reference: float, limit: float, shift: float) -> None:
    """Brook & Evans' chain with 600 states, solved by numpy: another method and other code."""
    np: Any = pytest.importorskip("numpy")
    stats: Any = pytest.importorskip("scipy.stats")
    states = 600
    width = 2 * limit / (2 * states - 1)
    at = np.arange(states) * width
    upper = stats.norm.cdf(at[None, :] - at[:, None] + width / 2 + reference - shift)
    chances = np.diff(upper, axis=1, prepend=0.0)
    chances[:, 0] = upper[:, 0]
    lengths = np.linalg.solve(np.eye(states) - chances, np.ones(states))
    assert isclose(one_sided(reference, limit, shift), lengths[0], rel_tol=2e-4)


# ---------------------------------------------------------------- paths


def test_the_path_of_lucas_and_crosier(prints: Prints) -> None:
    """Their out-of-control data: alarm at the 7th value with h = 5, at the 4th with h = 4, at the 3rd with a head start."""
    values = (0.8, 1.9, 1.4, 2.0, 1.1, 0.7, 2.6)
    sums = path(values, 0.5)
    prints(sums, "0.3 1.7 2.6 4.1 4.7 4.9 7.0")
    assert (first_above(sums, 5.0), first_above(sums, 4.0)) == (7, 4)
    ahead = path(values, 0.5, start=2.5)
    prints(ahead, "2.8 4.2 5.1 6.6 7.2 7.4 9.5")
    assert first_above(ahead, 5.0) == 3
    assert first_above(path((0.0, 0.0), 0.5), 5.0) is None


# ---------------------------------------------------------------- counts


def test_poisson_counts_of_lucas_1985(prints: Prints) -> None:
    """Technometrics 27 (1985), tables 2 and 3: mean 0.25, k 0.25, h 10; 438 from zero, 333 from a head start of 5."""
    chart = Chart(reference=1, limit=40, scale=4)
    prints(poisson_run_length(chart, 0.25), "438")
    prints(poisson_run_length(chart, 0.25, start=20), "333")
    prints(poisson_run_length(chart, 0.25), "438.125")  # recomputed
    prints(poisson_run_length(chart, 0.25, start=20), "333.125")


def test_a_single_failure_that_alarms_takes_one_over_its_share() -> None:
    assert isclose(bernoulli_run_length(Chart(reference=0, limit=1), 0.02), 50.0)


def test_a_chart_of_failures_runs_as_long_as_simulated() -> None:
    """1 % → 5 %: a chart on the lattice of 1/40, walked 4000 times with a fixed seed."""
    chart = Chart(reference=round(40 * bernoulli_reference(0.01, 0.05)), limit=90, scale=40)
    chance = Random(20260302)
    lengths = []
    for _ in range(4000):
        so_far = length = 0
        while not chart.alarms(so_far):
            so_far = chart.step(so_far, chance.random() < 0.05)
            length += 1
        lengths.append(length)
    mean = sum(lengths) / len(lengths)
    error = (sum((length - mean) ** 2 for length in lengths) / len(lengths) ** 2) ** 0.5
    assert abs(mean - bernoulli_run_length(chart, 0.05)) < 4 * error
    assert bernoulli_run_length(chart, 0.01) > 5 * bernoulli_run_length(chart, 0.05)


def test_a_chart_of_failures_is_designed_for_its_false_alarms() -> None:
    """1 % → 5 % of jobs: the smallest limit that is quiet for 400 healthy jobs, found again by trying every limit."""
    chart = design_bernoulli(0.01, 0.05, quiet=400.0)
    assert chart.reference / chart.scale == pytest.approx(bernoulli_reference(0.01, 0.05), rel=0.03)
    tried = next(limit for limit in range(1, 500) if bernoulli_run_length(chart._replace(limit=limit), 0.01) >= 400)
    assert chart.limit == tried
    assert bernoulli_run_length(chart, 0.05) < 60


def test_a_chart_of_lost_lines_may_be_quiet_for_a_million_lines() -> None:
    """0.2 % healthy, 2 % bad; it must still speak within some hundred bad lines."""
    chart = design_bernoulli(0.002, 0.02, quiet=1e6)
    assert (
        bernoulli_run_length(chart, 0.002) >= 1e6 > bernoulli_run_length(chart._replace(limit=chart.limit - 1), 0.002)
    )
    assert bernoulli_run_length(chart, 0.02) < 700


def test_a_chart_of_events_is_designed_for_its_false_alarms() -> None:
    chart = design_poisson(0.25, 1.0, quiet=500.0)
    assert chart.reference / chart.scale == pytest.approx(poisson_reference(0.25, 1.0), rel=0.03)
    assert poisson_run_length(chart, 0.25) >= 500 > poisson_run_length(chart._replace(limit=chart.limit - 1), 0.25)
    with pytest.raises(ValueError, match="at most 1e10"):
        design_poisson(0.25, 1.0, quiet=1e300)
    with pytest.raises(ValueError, match="size"):
        design_bernoulli(0.02, 0.02001, quiet=1e9)


def test_references_balance_the_evidence() -> None:
    """At k the log likelihood ratio of a count is zero."""
    assert isclose(poisson_reference(0.25, 1.0), 0.75 / 1.3862943611198906)
    assert isclose(bernoulli_reference(0.01, 0.10), 0.0397474, rel_tol=1e-5)


def test_counts_that_are_left_out_alarm() -> None:
    chart = Chart(reference=1, limit=3)
    assert isclose(run_length(chart, poisson(0.5, 20)), poisson_run_length(chart, 0.5))
    assert run_length(chart, poisson(0.5, 1)) < poisson_run_length(chart, 0.5)


@pytest.mark.parametrize("start", [-1, 3])
def test_a_start_outside_the_chart_is_refused(start: int) -> None:
    with pytest.raises(ValueError, match="start"):
        run_length(Chart(reference=1, limit=3), poisson(0.5, 5), start)
    with pytest.raises(ValueError, match="start"):
        one_sided(0.5, 2.0, start=start)
