"""Is there a trend in y over x, and how steep: Kendall's S and the Theil-Sen line, both indifferent to wild values.

    S = pairs rising - pairs falling       τ = S/(n(n-1)/2)
    var S = [n(n-1)(2n+5) - Σ t(t-1)(2t+5)]/18, t sizes of ties in y        z = (S ∓ 1)/√var S
    slope = median of (yⱼ - yᵢ)/(xⱼ - xᵢ)        intercept = median y - slope · median x

Source: US EPA, Statistical Analysis of Groundwater Monitoring Data at RCRA Facilities: Unified Guidance, EPA 530/R-09-007
(2009), chapter 17. The slope's limits take interpolated ranks, as the published example does.
"""

from collections import Counter
from collections.abc import Sequence
from math import floor, sqrt
from statistics import median
from typing import NamedTuple

from watchdog.statistics.quantiles import normal_chance, normal_quantile


class Trend(NamedTuple):
    """Kendall's test."""

    rising: int
    """S: pairs that rise less pairs that fall"""
    tau: float
    """S as a share of all pairs (tau-a)"""
    z: float
    """corrected for continuity; 0 when the variance is 0"""
    chance: float
    """two-sided: how often chance alone gives at least this"""


class Line(NamedTuple):
    """The Theil-Sen line."""

    slope: float
    intercept: float
    low: float
    """limits of the slope"""
    high: float


def kendall(x: Sequence[float], y: Sequence[float]) -> Trend:
    """Test of a trend in y over x, for at least 2 points; x has no ties."""
    n = len(x)
    if n < 2:
        raise ValueError("a trend needs at least two points")
    rising = sum(
        _sign(second_x - first_x) * _sign(second_y - first_y)
        for nth, (first_x, first_y) in enumerate(zip(x, y, strict=True))
        for second_x, second_y in zip(x[nth + 1 :], y[nth + 1 :], strict=True)
    )
    variance = _variance(y)
    z = 0.0 if variance == 0 else (rising - _sign(rising)) / sqrt(variance)
    return Trend(rising, rising / (n * (n - 1) / 2), z, 2 * normal_chance(-abs(z)))


def theil_sen(x: Sequence[float], y: Sequence[float], confidence: float = 0.95) -> Line:
    """Line through at least two points with different x."""
    slopes = sorted(
        (second_y - first_y) / (second_x - first_x)
        for nth, (first_x, first_y) in enumerate(zip(x, y, strict=True))
        for second_x, second_y in zip(x[nth + 1 :], y[nth + 1 :], strict=True)
        if second_x != first_x
    )
    if not slopes:
        raise ValueError("a line needs two points with different x")
    slope = median(slopes)
    reach = normal_quantile((1 + confidence) / 2) * sqrt(_variance(y))
    low, high = _ranked(slopes, (len(slopes) - reach) / 2), _ranked(slopes, (len(slopes) + reach) / 2 + 1)
    return Line(slope, median(y) - slope * median(x), low, high)


def _variance(y: Sequence[float]) -> float:
    n = len(y)
    ties = sum(times * (times - 1) * (2 * times + 5) for times in Counter(y).values())
    return (n * (n - 1) * (2 * n + 5) - ties) / 18


def _ranked(values: Sequence[float], rank: float) -> float:
    """The value at a broken rank counted from 1, the first or last one beyond the ends."""
    rank = min(max(rank, 1.0), float(len(values)))
    below = floor(rank)
    above = min(below + 1, len(values))
    return values[below - 1] + (rank - below) * (values[above - 1] - values[below - 1])


def _sign(value: float) -> int:
    return (value > 0) - (value < 0)
