"""Tests of 'no trend' and the power law, against published worked examples."""

from collections.abc import Callable
from itertools import permutations
from math import isclose

import pytest

from watchdog.statistics.ageing import (
    critical_reversals,
    gaps_between,
    laplace,
    military_handbook,
    reverse_arrangements,
)
from watchdog.statistics.growth import duane, mtbf_limits, mtbf_limits_by_normal, power_law

Prints = Callable[..., None]

# NIST/SEMATECH e-Handbook 8.2.2.3: hours, observed for 1500 h
CASE_STUDY = (5.0, 40.0, 43.0, 175.0, 389.0, 712.0, 747.0, 795.0, 1299.0, 1478.0)
# Hahn & Shapiro 1967, p. 284, as the data file of NIST Dataplot gives it: miles, observed for 135000
# fmt: off
LOCOMOTIVES = (
    22500.0, 37500.0, 46000.0, 48500.0, 51500.0, 53000.0, 54500.0, 57500.0, 66500.0, 68000.0, 69500.0, 76500.0,
    77000.0, 78500.0, 80000.0, 81500.0, 82000.0, 83000.0, 84000.0, 91500.0, 93500.0, 102500.0, 107000.0, 108500.0,
    112500.0, 113500.0, 116000.0, 117000.0, 118500.0, 119000.0, 120000.0, 122500.0, 123000.0, 127500.0, 131000.0,
    132500.0, 134000.0,
)
# fmt: on
# two prototypes, documentation of the Python package reliability; ended with the failure at 620
# fmt: off
PROTOTYPES = (
    2.7, 10.3, 12.5, 30.6, 57.0, 61.3, 80.0, 109.5, 125.0, 128.6, 143.8, 167.9, 229.2, 296.7, 320.6, 328.2, 366.2,
    396.7, 421.1, 438.2, 501.2, 620.0,
)
# fmt: on
# MIL-HDBK-189 (1981), appendix C; observed for 300
# fmt: off
MILITARY = (
    2.6, 16.5, 16.5, 17.0, 21.4, 29.1, 33.3, 56.5, 63.1, 70.6, 73.0, 77.7, 93.9, 95.5, 98.1, 101.1, 132.0, 142.2,
    147.7, 149.0, 167.2, 190.7, 193.0, 198.7, 251.9, 282.5, 286.1,
)
# fmt: on
# documentation of the Python package reliability; ended with the last failure
# fmt: off
WORSENING_GAPS = (
    104.0, 131.0, 1597.0, 59.0, 4.0, 503.0, 157.0, 6.0, 118.0, 173.0, 114.0, 62.0, 101.0, 216.0, 106.0, 140.0, 1.0,
    102.0, 3.0, 393.0, 96.0, 232.0, 89.0, 61.0, 37.0, 293.0, 7.0, 165.0, 87.0, 99.0,
)
# fmt: on


def test_the_case_study_improves_by_two_tests_and_not_clearly_by_the_third(prints: Prints) -> None:
    """Recomputed with scipy; the tests look for different trends and disagree on purpose."""
    reversals = reverse_arrangements(gaps_between(CASE_STUDY))
    assert reversals.statistic == 33
    prints(reversals.improving, "0.036275")
    prints(military_handbook(CASE_STUDY, 1500.0).statistic, "37.228081")
    prints(military_handbook(CASE_STUDY, 1500.0).improving, "0.010986")
    prints(laplace(CASE_STUDY, 1500.0).statistic, "-1.326949")
    prints(laplace(CASE_STUDY, 1500.0).improving, "0.092263")


def test_the_locomotives_worsen(prints: Prints) -> None:
    """Printed output of NIST Dataplot, reliability trend test (its standardised R cannot be recomputed)."""
    assert reverse_arrangements(gaps_between(LOCOMOTIVES)).statistic == 215
    prints(military_handbook(LOCOMOTIVES, 135000.0).statistic, "35.72037")
    prints(military_handbook(LOCOMOTIVES, 135000.0).worsening * 1e4, "0.4925167")
    prints(laplace(LOCOMOTIVES, 135000.0).statistic, "3.416969")
    prints(laplace(LOCOMOTIVES, 135000.0).improving, "0.999683")  # the print adds a 3 that is cut off, not rounded


def test_a_worsening_machine_whose_observation_ended_with_a_failure(prints: Prints) -> None:
    """Documentation of the Python package reliability: Laplace 2.409, exponent 1.588, scale 3.703e-05."""
    times, so_far = [], 0.0
    for gap in WORSENING_GAPS:
        so_far += gap
        times.append(so_far)
    prints(laplace(times, so_far, ended_by_failure=True).statistic, "2.409")
    law = power_law(times, so_far, ended_by_failure=True)
    prints((law.b, law.a * 1e5), "1.588 3.703")


@pytest.mark.parametrize(
    ("failures", "worsening", "improving"),
    [  # recomputed from the distribution of inversion numbers: at 1, 5 and 10 %, and at 10, 5 and 1 %
        (5, (0, 1, 1), (9, 9, 10)),
        (6, (1, 2, 3), (12, 13, 14)),
        (8, (4, 6, 8), (20, 22, 24)),
        (10, (9, 12, 14), (31, 33, 36)),
        (12, (15, 20, 23), (43, 46, 51)),
    ],
)
def test_critical_numbers_of_reversals(
    failures: int, worsening: tuple[int, int, int], improving: tuple[int, int, int]
) -> None:
    found = [critical_reversals(failures, chance) for chance in (0.01, 0.05, 0.10)]
    assert tuple(low for low, _ in found) == worsening
    assert tuple(high for _, high in reversed(found)) == improving


def test_four_gaps_can_never_show_worsening_at_one_per_cent() -> None:
    assert critical_reversals(4, 0.01)[0] is None
    assert critical_reversals(4, 0.05) == (0, 6)


def test_the_exact_chances_are_those_of_all_orders() -> None:
    """Every order of six gaps counted one by one."""
    orders = [sum(order[j] < order[k] for j in range(6) for k in range(j + 1, 6)) for order in permutations(range(6))]
    verdict = reverse_arrangements([3.0, 1.0, 2.0, 6.0, 4.0, 5.0])
    assert verdict.improving == sum(count >= verdict.statistic for count in orders) / 720
    assert verdict.worsening == sum(count <= verdict.statistic for count in orders) / 720


def test_the_chance_of_twelve_gaps_at_the_remembered_limit(prints: Prints) -> None:
    falling = [float(gap) for gap in range(12, 0, -1)]
    assert reverse_arrangements(falling).statistic == 0
    assert critical_reversals(12, 0.006885)[0] == 14  # P(R <= 15) is 0.006885 rounded: a hair more
    assert critical_reversals(12, 0.006886)[0] == 15
    assert critical_reversals(12, 0.010491)[0] == 16


@pytest.mark.parametrize(("times", "end"), [((), 10.0), ((0.0, 1.0), 10.0), ((3.0, 2.0), 10.0), ((3.0, 12.0), 10.0)])
def test_times_that_cannot_be_are_refused(times: tuple[float, ...], end: float) -> None:
    for test in (laplace, military_handbook):
        with pytest.raises(ValueError, match="rising"):
            test(times, end)


# ---------------------------------------------------------------- power law


def test_the_case_study_by_power_law(prints: Prints) -> None:
    """NIST/SEMATECH e-Handbook 8.4.5.2, by NIST's companion script: growth slope, scale, MTBF and 80 % limits."""
    law = power_law(CASE_STUDY, 1500.0, less_biased=True)
    prints((1 - law.b, law.b), "0.516494 0.483506")
    prints(law.mtbf, "310.234")
    prints(mtbf_limits_by_normal(law, 0.80), "157.7138 548.5566")
    plain = power_law(CASE_STUDY, 1500.0)
    prints((plain.b, plain.mtbf), "0.5372288660 279.2106")
    prints(mtbf_limits(plain, 0.80), "153.32 596.27")  # own derivation, recomputed


def test_the_scale_goes_with_its_exponent(prints: Prints) -> None:
    """a = r/Tᵇ for both exponents, so that the failures until the end are those that were seen (NIST script: 0.2913003)."""
    less = power_law(CASE_STUDY, 1500.0, less_biased=True)
    prints(less.a, "0.2913003")
    assert isclose(less.failures_until(1500.0), 10)


def test_two_prototypes(prints: Prints) -> None:
    """Documentation of the Python package reliability."""
    law = power_law(PROTOTYPES, 620.0, ended_by_failure=True)
    prints((law.b, law.a), "0.61421 0.42394")
    prints((620.0 / law.failures, law.mtbf, 1 / law.mtbf), "28.18182 45.883 0.021795")
    prints(1087.18769 / law.failures_until(1087.18769), "35.00000")  # when the cumulative MTBF will be 35
    line = duane(PROTOTYPES)
    prints((line.slope, 1 / line.factor), "0.42531 0.57338")
    prints((line.cumulative(620.0), line.current(620.0)), "26.86511 46.74719")


def test_the_military_handbook_example(prints: Prints) -> None:
    """MIL-HDBK-189 (1981), appendix C."""
    law = power_law(MILITARY, 300.0)
    prints((law.b, law.a), "0.7163392624 0.4538418614")
    prints((1 / law.mtbf, law.mtbf), "0.0644705336 15.5109620")
    prints(power_law(MILITARY, 300.0, less_biased=True).b, "0.6898081786")


@pytest.mark.parametrize(
    ("failures", "confidence", "printed"),
    [(23, 0.80, "0.6762 1.5744"), (27, 0.90, "0.6361467 1.6817864"), (10, 0.80, "0.549104 2.135570")],
)
def test_crows_exact_factors(failures: int, confidence: float, printed: str, prints: Prints) -> None:
    """Crow 1982 (the first two); the last one recomputed."""
    times = [100.0 * nth / failures for nth in range(1, failures + 1)]
    law = power_law(times, 101.0)
    low, high = mtbf_limits(law, confidence)
    prints((low / law.mtbf, high / law.mtbf), printed)


def test_the_case_study_on_duane_paper(prints: Prints) -> None:
    """Recomputed: a least-squares line through ln(Tᵢ/i) over ln Tᵢ."""
    line = duane(CASE_STUDY)
    prints((line.slope, 1 / line.factor), "0.613561 0.550816")


def test_too_few_failures_are_refused() -> None:
    for times, less_biased, ended in (((), False, False), ((5.0,), True, False), ((5.0, 9.0), True, True)):
        with pytest.raises(ValueError, match="failure"):
            power_law(times, 9.0, less_biased=less_biased, ended_by_failure=ended)
