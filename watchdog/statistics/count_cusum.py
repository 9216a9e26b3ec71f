"""CUSUM of counts: events an interval (Poisson) or failures among jobs or lines (Bernoulli), exactly.

    S = max(0, S + x - k)     alarm when S ≥ h      (for counts ≥ and > are not the same)

S, k and h are kept as whole multiples of 1/`scale`, so that the chart walks on a lattice and its run length is a finite
Markov chain: no approximation. k for a change of rate r₀ → r₁:
    Poisson    (r₁ - r₀)/(ln r₁ - ln r₀)
    Bernoulli  -ln((1-p₁)/(1-p₀)) / ln(p₁(1-p₀)/(p₀(1-p₁)))
Sources: Lucas, Technometrics 27 (1985) for Poisson counts; Reynolds & Stoumbos, Journal of Quality Technology 31 (1999)
for Bernoulli ones (cited from memory); the second k is also the slope of Wald's sequential test (`sprt`).
"""

from collections.abc import Callable, Sequence
from math import exp, lgamma, log
from typing import NamedTuple

from watchdog.statistics.chain import mean_steps
from watchdog.statistics.sprt import slope

_LARGEST = 1 << 12  # lattice units of a limit; the chain of such a chart still takes seconds only
_LONGEST = 1e10  # counts: beyond that rounding eats the run length


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


def design_poisson(healthy: float, bad: float, quiet: float, steps: int = 8) -> Chart:
    """The chart that tells `bad` events an interval soonest and runs at least `quiet` healthy intervals on average.

    k is rounded to 1/scale, so that one interval takes away about `steps` lattice units.
    """
    wanted = poisson_reference(healthy, bad)
    scale = max(1, round(steps / wanted))
    reference = max(1, round(wanted * scale))
    return _quiet(Chart(reference, 1, scale), lambda chart: poisson_run_length(chart, healthy), quiet)


def design_bernoulli(healthy: float, bad: float, quiet: float) -> Chart:
    """The chart that tells a share `bad` of events soonest and runs at least `quiet` healthy trials on average.

    k is rounded to 1/scale with whole scale, after Reynolds & Stoumbos: each trial takes away one unit.
    """
    scale = round(1 / bernoulli_reference(healthy, bad))
    return _quiet(Chart(1, 1, max(1, scale)), lambda chart: bernoulli_run_length(chart, healthy), quiet)


def _quiet(chart: Chart, length: Callable[[Chart], float], quiet: float) -> Chart:
    """The chart with the smallest limit that is quiet enough."""
    if not 0 < quiet <= _LONGEST:
        raise ValueError("a chart is quiet for more than 0 and at most 1e10 counts")
    low, high = 0, 1
    while length(chart._replace(limit=high)) < quiet:
        low, high = high, 2 * high
        if high > _LARGEST:
            raise ValueError("no chart of bearable size is quiet for so long")
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if length(chart._replace(limit=middle)) < quiet else (low, middle)
    return chart._replace(limit=high)


def _onward(chart: Chart, chances: Sequence[float], at: int) -> dict[int, float]:
    row: dict[int, float] = {}
    for events, chance in enumerate(chances):
        following = chart.step(at, events)
        if following >= chart.limit:
            break
        row[following] = row.get(following, 0.0) + chance
    return row
