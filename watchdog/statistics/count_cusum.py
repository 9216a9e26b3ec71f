"""CUSUM of counts: events an interval (Poisson) or failures among jobs or lines (Bernoulli), exactly.

    S = max(0, S + x - k)     alarm when S ≥ h      (for counts ≥ and > are not the same)

S, k and h are kept as whole multiples of 1/`scale`, so that the chart walks on a lattice and its run length is a finite
Markov chain: no approximation. k for a change of rate r₀ → r₁:
    Poisson    (r₁ - r₀)/(ln r₁ - ln r₀)
    Bernoulli  -ln((1-p₁)/(1-p₀)) / ln(p₁(1-p₀)/(p₀(1-p₁)))
Sources: Lucas, Technometrics 27 (1985) for Poisson counts; Reynolds & Stoumbos, Journal of Quality Technology 31 (1999)
for Bernoulli ones (cited from memory); the second k is also the slope of Wald's sequential test (`sprt`).
"""

from collections.abc import Sequence
from math import exp, lgamma, log
from typing import NamedTuple

from watchdog.statistics.chain import mean_steps
from watchdog.statistics.sprt import slope


class Chart(NamedTuple):
    """A chart on a lattice."""

    reference: int
    """k, in units of 1/scale: taken away at every step"""
    limit: int
    """h, in units of 1/scale: alarm at this or above"""
    scale: int = 1
    """lattice units that one event counts"""

    def step(self, so_far: int, events: int) -> int:
        """The sum after one more count, in units of 1/scale."""
        return max(0, so_far + events * self.scale - self.reference)

    def alarms(self, so_far: int) -> bool:
        """Whether the sum has reached the limit."""
        return so_far >= self.limit


def poisson_reference(healthy: float, bad: float) -> float:
    """k that tells a mean of `healthy` events an interval from `bad` soonest."""
    return (bad - healthy) / (log(bad) - log(healthy))


def bernoulli_reference(healthy: float, bad: float) -> float:
    """k that tells a share `healthy` of events from a share `bad` soonest."""
    return slope(healthy, bad)


def poisson(mean: float, most: int) -> tuple[float, ...]:
    """Chances of 0, 1 … `most` events; what is left over is more than `most`."""
    return tuple(
        exp(events * log(mean) - mean - lgamma(events + 1)) if mean else float(not events) for events in range(most + 1)
    )


def bernoulli(share: float) -> tuple[float, float]:
    """Chances of no event and of one."""
    return 1 - share, share


def run_length(chart: Chart, chances: Sequence[float], start: int = 0) -> float:
    """Mean number of counts until the alarm, from the sum `start`. `chances` of 0, 1, 2 … events a count.

    What is missing from a sum of 1 counts as an alarm, so give all counts that may still leave the chart silent.
    """
    if not 0 <= start < chart.limit:
        raise ValueError("a chart starts between 0 and below its limit")
    return mean_steps([_onward(chart, chances, at) for at in range(chart.limit)])[start]


def poisson_run_length(chart: Chart, mean: float, start: int = 0) -> float:
    """Mean number of intervals until the alarm, at `mean` events an interval."""
    return run_length(chart, poisson(mean, (chart.limit + chart.reference) // chart.scale + 1), start)


def bernoulli_run_length(chart: Chart, share: float, start: int = 0) -> float:
    """Mean number of trials until the alarm, when `share` of them count."""
    return run_length(chart, bernoulli(share), start)


def _onward(chart: Chart, chances: Sequence[float], at: int) -> list[float]:
    row = [0.0] * chart.limit
    for events, chance in enumerate(chances):
        following = chart.step(at, events)
        if following >= chart.limit:
            break
        row[following] += chance
    return row
