"""Percentiles, and how well they are known, without any distribution: by the ranks of the values.

    percentile   value at the broken rank p(n+1), counted from 1; the first or the last value beyond the ends
    interval     X(l) to X(u), l the largest rank with P(B ≤ l-1) ≤ α/2, u the smallest with P(B ≥ u) ≤ α/2, B ~ binomial(n, p)

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.2 (percentiles); Conover, Practical Nonparametric
Statistics, the chapter on quantiles (interval; cited from memory). Results have the unit of the values.
"""

from collections.abc import Sequence
from math import floor

from watchdog.statistics.special import beta_tails

_HAIR = 1e-12  # a tail that is met exactly must not fail by rounding


def percentile(values: Sequence[float], share: float) -> float:
    """The value below which a `share` of all lies, from at least one value."""
    if not values or not 0 < share < 1:
        raise ValueError("a percentile needs a value and a share between 0 and 1")
    ordered = sorted(values)
    rank = min(max(share * (len(ordered) + 1), 1.0), float(len(ordered)))
    below = floor(rank)
    above = min(below + 1, len(ordered))
    return ordered[below - 1] + (rank - below) * (ordered[above - 1] - ordered[below - 1])


def percentile_interval(
    values: Sequence[float], share: float, confidence: float = 0.95
) -> tuple[float | None, float | None]:
    """Two-sided limits of that percentile, holding with at least `confidence`; None: too few values for that end."""
    if not values or not (0 < share < 1 and 0 < confidence < 1):
        raise ValueError("an interval needs a value, and a share and a confidence between 0 and 1")
    ordered, tail = sorted(values), (1 - confidence) / 2 + _HAIR
    n = len(ordered)
    low = high = None
    for rank in range(1, n + 1):
        at_least = beta_tails(rank, n - rank + 1, share)[0]  # P(B >= rank)
        if 1 - at_least <= tail:
            low = ordered[rank - 1]
        if at_least <= tail:
            high = ordered[rank - 1]
            break
    return low, high
