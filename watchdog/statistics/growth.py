"""Reliability growth by a power law: failures expected until t = a tᵇ. b < 1 improves, b = 1 stays, b > 1 worsens.

    S = Σ ln(T/tᵢ)    b = r/S    a = r/Tᵇ    MTBF at T = T/(r b)
    less biased       b = (r-1)/S (observation ended at a set time), (r-2)/S (ended with a failure)
    Duane             ln(tᵢ/i) = ln c + g ln tᵢ by least squares; growth slope g, MTBF at T = c Tᵍ/(1-g)

Sources: MIL-HDBK-189 (1981), appendix C; NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.2 (which writes β for the
growth slope 1-b, where the military handbook writes β for b). Times in any one unit.
"""

from collections.abc import Callable, Sequence
from math import exp, lgamma, log, sqrt
from statistics import linear_regression
from typing import NamedTuple

from watchdog.statistics.quantiles import normal_quantile


class PowerLaw(NamedTuple):
    """A fitted power law."""

    failures: int
    end: float
    b: float
    """exponent"""
    a: float
    """scale: failures until time 1"""

    @property
    def mtbf(self) -> float:
        """Mean time between failures at the end of the observation."""
        return self.mtbf_at(self.end)

    def mtbf_at(self, time: float) -> float:
        """Mean time between failures at `time`."""
        return float(time ** (1 - self.b) / (self.a * self.b))

    def failures_until(self, time: float) -> float:
        """Failures expected until `time`."""
        return float(self.a * time**self.b)


class Duane(NamedTuple):
    """A line through cumulative MTBF over time, both as logarithms."""

    slope: float
    factor: float
    """cumulative MTBF at time 1"""

    def cumulative(self, time: float) -> float:
        """Mean time between failures over all of the time until `time`."""
        return float(self.factor * time**self.slope)

    def current(self, time: float) -> float:
        """Mean time between failures at `time`."""
        return self.cumulative(time) / (1 - self.slope)


def power_law(
    times: Sequence[float], end: float, *, ended_by_failure: bool = False, less_biased: bool = False
) -> PowerLaw:
    """Maximum-likelihood fit. Needs 1 failure, one more where ended by it, and one more where less biased."""
    r = len(times)
    if not times or not all(0 < time <= end for time in times):
        raise ValueError("a power law needs failure times above 0 and none after the end")
    spread = sum(log(end / time) for time in times)
    counted = r - (1 + ended_by_failure if less_biased else 0)
    if counted < 1 or spread == 0:
        raise ValueError("too few failures for a power law")
    b = counted / spread
    return PowerLaw(r, end, b, r / end**b)


def mtbf_limits_by_normal(law: PowerLaw, confidence: float = 0.80) -> tuple[float, float]:
    """Approximate two-sided limits of the MTBF at the end, from a `less_biased` time-terminated fit (NIST 8.4.5.2)."""
    z, r = normal_quantile((1 + confidence) / 2), law.failures
    front = law.mtbf * r * (r - 1)
    low = front / (r + z * z / 4 + sqrt(r * z * z / 2 + z**4 / 16)) ** 2
    return low, front / (r - z * sqrt(r / 2)) ** 2


def mtbf_limits(law: PowerLaw, confidence: float = 0.80) -> tuple[float, float]:
    """Exact two-sided limits of the MTBF at the end, from a plain maximum-likelihood time-terminated fit.

    Weights yᵏ/(k!(k-1)!), k ≥ 1: the limits are MTBF n²/y where P(K ≤ n), or P(K ≥ n), is the tail. Agrees with the factors
    in MIL-HDBK-189 (Crow 1982).
    """
    tail, n = (1 - confidence) / 2, law.failures
    low = _root(lambda y: tail - _at_most(n, y), n)
    high = _root(lambda y: 1 - _at_most(n - 1, y) - tail, n)
    return law.mtbf * n * n / low, law.mtbf * n * n / high


def duane(times: Sequence[float]) -> Duane:
    """Least-squares Duane line through at least two failures at different times."""
    logs = [log(time) for time in times]
    slope, level = linear_regression(logs, [log(time / nth) for nth, time in enumerate(times, 1)])
    return Duane(slope, exp(level))


def _at_most(n: int, y: float) -> float:
    """P(K <= n)."""
    far = n + int(sqrt(y)) + 60
    weights = [k * log(y) - lgamma(k + 1) - lgamma(k) for k in range(1, 2 * far)]
    top = max(weights)
    below = sum(exp(weight - top) for weight in weights[:n])
    return below / (below + sum(exp(weight - top) for weight in weights[n:]))


def _root(rising: Callable[[float], float], n: int) -> float:
    low, high = 1e-9, (n + 1.0) ** 2
    while rising(high) < 0:
        low, high = high, 2 * high
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (middle, high) if rising(middle) < 0 else (low, middle)
    return (low + high) / 2
