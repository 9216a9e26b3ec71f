"""Is a repaired machine getting better or worse: three tests on the times of its failures.

    reverse arrangements  R = pairs j < k with gap j < gap k          many = improving, few = worsening
    military handbook     χ² = 2 Σ ln(T/tᵢ), 2r degrees of freedom    large = improving, small = worsening
    Laplace               z = √(12 r) Σ(tᵢ - T/2)/(r T)               below 0 = improving, above 0 = worsening

r failures at running times t₁ … tᵣ, observed until T. They look for different trends and need not agree: the military
handbook test is best against a power law, Laplace against an exponential trend, R against any that holds its direction.
Where the observation ends with the last failure, that one is left out of the sums.
Source: NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.3.4; NIST Dataplot reference manual, reliability trend test.
"""

from collections.abc import Sequence
from math import log, sqrt
from typing import NamedTuple

from watchdog.statistics.quantiles import normal_chance
from watchdog.statistics.special import gamma_tails


class Verdict(NamedTuple):
    """A test of 'no trend'."""

    statistic: float
    improving: float
    """how often a machine without any trend looks at least as much like improving"""
    worsening: float
    """the same for worsening"""


def reverse_arrangements(gaps: Sequence[float]) -> Verdict:
    """Exact test on the times between failures. Equal gaps count as no reversal, which leans to 'worsening'."""
    if len(gaps) < 2:
        raise ValueError("a trend needs at least two gaps")
    found = sum(one < later for nth, one in enumerate(gaps) for later in gaps[nth + 1 :])
    ways = _ways(len(gaps))
    whole = sum(ways)
    return Verdict(found, sum(ways[found:]) / whole, sum(ways[: found + 1]) / whole)


def critical_reversals(failures: int, chance: float) -> tuple[int | None, int]:
    """Largest R that shows worsening and smallest R that shows improving, one-sided at `chance`; None: no R does."""
    ways = _ways(failures)
    whole, low, so_far = sum(ways), -1, 0
    for reversals, count in enumerate(ways):
        so_far += count
        if so_far > chance * whole:
            break
        low = reversals
    return (low if low >= 0 else None), len(ways) - 1 - low


def military_handbook(times: Sequence[float], end: float, *, ended_by_failure: bool = False) -> Verdict:
    """The χ² test; for `ended_by_failure` the last time must be `end`."""
    counted = _counted(times, end, ended_by_failure)
    statistic = 2 * sum(log(end / time) for time in counted)
    below, above = gamma_tails(len(counted), statistic / 2)
    return Verdict(statistic, above, below)


def laplace(times: Sequence[float], end: float, *, ended_by_failure: bool = False) -> Verdict:
    """The Laplace (centroid) test; normal approximation, good from about 4 failures."""
    counted = _counted(times, end, ended_by_failure)
    r = len(counted)
    z = sqrt(12 * r) * sum(time - end / 2 for time in counted) / (r * end)
    return Verdict(z, normal_chance(z), normal_chance(-z))


def gaps_between(times: Sequence[float]) -> tuple[float, ...]:
    """Times between failures, the first from 0."""
    return tuple(later - earlier for earlier, later in zip((0.0, *times), times, strict=False))


def _counted(times: Sequence[float], end: float, ended_by_failure: bool) -> Sequence[float]:
    counted = times[:-1] if ended_by_failure else times
    if not counted or not all(0 < time <= end for time in times) or list(times) != sorted(times):
        raise ValueError("a trend needs failure times in rising order, above 0 and none after the end")
    return counted


def _ways(r: int) -> list[int]:
    """How many of the r! orders have 0, 1, 2 … reversals."""
    ways = [1]
    for size in range(2, r + 1):
        longer = [0] * (len(ways) + size - 1)
        for reversals, count in enumerate(ways):
            for more in range(size):
                longer[reversals + more] += count
        ways = longer
    return ways
