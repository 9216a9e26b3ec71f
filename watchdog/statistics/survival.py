"""How long things last when some are still in use: the Kaplan-Meier estimate with Greenwood's limits.

    S(t) = Π (1 - d/n) over failure times ≤ t      var S = S² Σ d/(n (n-d))      limits S ± z √var, clipped to 0…1

d failures, n still at risk; a thing withdrawn at the same time as a failure counts as at risk then.
Source: NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.1.5 (product limit; section from memory). Times in any one unit.
"""

from collections.abc import Sequence
from itertools import groupby
from math import sqrt
from typing import NamedTuple

from watchdog.statistics.quantiles import normal_quantile


class Step(NamedTuple):
    """What is known at one failure time."""

    time: float
    at_risk: int
    failed: int
    survival: float
    low: float
    high: float


class Life(NamedTuple):
    """Time by which half have failed, with the times at which the limits pass one half."""

    low: float | None
    middle: float | None
    high: float | None
    """None where the curve, or its limit, never comes down to one half"""


def kaplan_meier(
    failed: Sequence[float], withdrawn: Sequence[float] = (), confidence: float = 0.95
) -> tuple[Step, ...]:
    """One step a failure time, in rising order; `withdrawn` are ages of things still in use or taken out unfailed."""
    z = normal_quantile((1 + confidence) / 2)
    steps, survival, spread = [], 1.0, 0.0
    for time, together in groupby(sorted(failed)):
        lost = len(list(together))
        at_risk = sum(age >= time for age in failed) + sum(age >= time for age in withdrawn)
        survival *= 1 - lost / at_risk
        if lost < at_risk:
            spread += lost / (at_risk * (at_risk - lost))
        half = z * survival * sqrt(spread)  # none is left: survival is 0, and so is Greenwood's variance
        steps.append(Step(time, at_risk, lost, survival, max(0.0, survival - half), min(1.0, survival + half)))
    return tuple(steps)


def median_life(steps: Sequence[Step]) -> Life:
    """The usual reading of the curve at one half (limits by reflection, Brookmeyer & Crowley 1982, from memory)."""

    def passes(height: Sequence[float]) -> float | None:
        # a hair above one half: 0.5 reached through a product of fractions may end at 0.5000000000000001
        return next((step.time for step, at in zip(steps, height, strict=True) if at <= 0.5 + 1e-12), None)

    return Life(
        passes([step.low for step in steps]),
        passes([step.survival for step in steps]),
        passes([step.high for step in steps]),
    )
