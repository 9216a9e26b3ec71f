"""Robust middle, spread and trend against published data sets."""

from collections.abc import Callable
from statistics import fmean, median
from typing import Any

import pytest

from watchdog.statistics.robust import deviation, hodges_lehmann, modified_z, outliers, sigma
from watchdog.statistics.slope import kendall, theil_sen

Prints = Callable[..., None]

# Venables & Ripley 2002, section 5.5, as kept in the test suite of statsmodels
# fmt: off
CHEM = (
    2.20, 2.20, 2.4, 2.4, 2.5, 2.7, 2.8, 2.9, 3.03, 3.03, 3.10, 3.37, 3.4, 3.4, 3.4, 3.5, 3.6, 3.7, 3.7, 3.7, 3.7,
    3.77, 5.28, 28.95,
)
# fmt: on
# Rosner 1983, as the help page of NIST Dataplot gives it
# fmt: off
ROSNER = (
    -0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70, 1.76,
    1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40, 2.47, 2.54,
    2.62, 2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01,
)
# fmt: on
# US EPA 2009 (EPA 530/R-09-007), example 17-6, p. 17-33
# fmt: off
EPA_X = (
    89.6, 89.8, 90.1, 90.3, 90.6, 90.8, 91.1, 91.3, 91.6, 91.8, 92.1, 92.6, 93.1, 93.6, 94.1, 94.6, 95.1, 95.6, 95.8,
    96.1, 96.3, 96.6, 96.8,
)
# fmt: on
# fmt: off
EPA_Y = (
    480.0, 450.0, 490.0, 520.0, 485.0, 510.0, 510.0, 530.0, 510.0, 560.0, 560.0, 540.0, 590.0, 550.0, 600.0, 700.0,
    570.0, 610.0, 650.0, 620.0, 830.0, 720.0, 590.0,
)
# fmt: on


def test_chem(prints: Prints) -> None:
    prints((fmean(CHEM), median(CHEM)), "4.2804 3.385")
    prints(sigma(CHEM), "0.52632")
    prints(hodges_lehmann(CHEM), "3.225")
    assert outliers(CHEM) == (5.28, 28.95)
    scores = modified_z(CHEM)
    assert scores is not None
    prints(scores[-2:], "3.60 48.57")


def test_rosner(prints: Prints) -> None:
    """Recomputed with numpy."""
    prints((median(ROSNER), deviation(ROSNER), sigma(ROSNER)), "2.095 0.545 0.808018")
    prints(hodges_lehmann(ROSNER), "2.17")
    assert outliers(ROSNER) == (5.34, 5.42, 6.01)


def test_mostly_equal_values_leave_the_outliers_untold() -> None:
    """A MAD of 0 must not make every other value infinitely odd."""
    values = (2.0, 2.0, 2.0, 2.0, 9.0)
    assert modified_z(values) is None
    assert outliers(values) is None


def test_a_wild_value_moves_the_mean_but_not_the_middle() -> None:
    assert abs(hodges_lehmann((*ROSNER, 1e6)) - hodges_lehmann(ROSNER)) < 0.05
    assert abs(fmean((*ROSNER, 1e6)) - fmean(ROSNER)) > 1e4


def test_the_epa_trend(prints: Prints) -> None:
    """As the help page of the R package EnvStats prints it for that example."""
    found = kendall(EPA_X, EPA_Y)
    assert found.rising == 194
    prints((found.tau, found.z), "0.7667984 5.107322")
    prints(found.chance * 1e7, "3.267574")
    line = theil_sen(EPA_X, EPA_Y)
    prints((line.slope, line.intercept), "26.6666667 -1909.3333333")
    prints((line.low, line.high), "20.00000 35.71182")


def test_the_trend_agrees_with_scipy() -> None:
    stats: Any = pytest.importorskip("scipy.stats")
    y = tuple(((7 * i) % 11) + i * 0.31 for i in range(20))
    x = tuple(float(i) for i in range(20))
    wanted = stats.theilslopes(y, x)
    found = theil_sen(x, y)
    assert (found.slope, found.intercept) == pytest.approx((wanted[0], wanted[1]), rel=1e-12)
    assert kendall(x, y).tau == pytest.approx(stats.kendalltau(x, y).statistic, rel=1e-12)  # no ties: tau-a is tau-b


def test_without_any_movement_there_is_no_trend() -> None:
    found = kendall((1.0, 2.0, 3.0), (5.0, 5.0, 5.0))
    assert (found.rising, found.z, found.chance) == (0, 0.0, 1.0)


def test_a_line_without_two_places_is_refused() -> None:
    with pytest.raises(ValueError, match="different x"):
        theil_sen((1.0, 1.0), (2.0, 3.0))
    with pytest.raises(ValueError, match="two points"):
        kendall((1.0,), (2.0,))
