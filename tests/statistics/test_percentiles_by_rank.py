"""Percentiles and their limits against a handbook's example, textbook coverages and a reference library."""

from collections.abc import Callable, Sequence
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from watchdog.statistics.ranks import percentile, percentile_interval

Prints = Callable[..., None]

# NIST/SEMATECH e-Handbook, 7.2.6.2: twelve gauge readings (data and result from memory)
GAUGE = (
    95.1772, 95.1567, 95.1937, 95.1959, 95.1442, 95.0610, 95.1591, 95.1195, 95.1772, 95.0925, 95.1990, 95.1682,
)  # fmt: skip


def test_the_handbooks_ninetieth_percentile(prints: Prints) -> None:
    prints(percentile(GAUGE, 0.9), "95.1981")


@pytest.mark.parametrize(("n", "low", "high"), [(6, 1, 6), (10, 2, 9), (15, 4, 12), (20, 6, 15)])
def test_the_median_lies_between_the_ranks_of_the_sign_test(n: int, low: int, high: int) -> None:
    """Textbook ranks at 95 %: 6 values 96.9 %, 10 values 97.9 %, 15 values 96.5 %, 20 values 95.9 %."""
    assert percentile_interval(range(1, n + 1), 0.5) == (low, high)
    inside = stats.binom.cdf(high - 1, n, 0.5) - stats.binom.cdf(low - 1, n, 0.5)
    assert inside >= 0.95


def test_five_values_do_not_bound_a_median_with_95_percent() -> None:
    """1 - 2/2⁵ = 93.75 %: no interval may be made up."""
    assert percentile_interval(range(5), 0.5) == (None, None)


def test_a_high_percentile_of_few_values_has_no_upper_limit() -> None:
    low, high = percentile_interval(range(20), 0.9)
    assert low is not None
    assert high is None


@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=60), st.sampled_from([0.1, 0.5, 0.9]))
def test_limits_agree_with_a_reference_library(values: Sequence[float], share: float) -> None:
    reference: Any = stats.quantile_test(values, p=share).confidence_interval(0.95)
    low, high = percentile_interval(values, share)
    assert low == (None if reference.low != reference.low else reference.low)
    assert high == (None if reference.high != reference.high else reference.high)


@given(st.lists(st.floats(-1e6, 1e6), min_size=2, max_size=60), st.floats(0.01, 0.99))
def test_percentiles_agree_with_a_reference_library(values: Sequence[float], share: float) -> None:
    expected = stats.mstats.mquantiles(values, [share], alphap=0, betap=0)[0]
    assert percentile(values, share) == pytest.approx(expected, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize(("values", "share"), [((), 0.5), ((1.0,), 0.0), ((1.0,), 1.0)])
def test_what_has_no_percentile_is_refused(values: Sequence[float], share: float) -> None:
    with pytest.raises(ValueError, match="percentile"):
        percentile(values, share)
    with pytest.raises(ValueError, match="interval"):
        percentile_interval(values, share)
