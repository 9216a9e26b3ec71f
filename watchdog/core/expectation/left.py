"""How long a job still takes, with bounds: by its planned progress, or by the clock alone.

By progress, at the share f of the planned work B, with the history's ratio m and the pace q of this very job so far
(real over planned work, holds and heat left out):

    time left   r (1-f) B,      ln r = (1-w) ln m + w ln q
    weight      w = f^(1/max(1, u)),     u = |ln q - ln m| √f / (1.5 |ln bound - ln m|)
    bounds      ± g B (bound - m) max(1, r/m),     g = √((1-f)(1 + f(1-f)))

A pace as the past knows it counts by its share f: half way, half. One that the past does not know (u > 1: half as far
again as its bounds, also for so short a part, whose noise is 1/√f of a whole job's) counts for more, and soon for nearly
all. g is the error of the rest when a job's minutes vary independently: 1/(1-f) from the rest, f from the weight given to
the pace, both in variances of a whole job. It never falls below 1-f, the error when a job is slow or fast as a whole, so
the bounds hold in both cases and are never narrower than those of the history, cut down to what is left. (Simulated: 89
to 91 % of the intervals hold when minutes vary independently, more in all other cases; 90 % are meant.)
"""

from math import exp, log, sqrt
from typing import NamedTuple

from watchdog.core.expectation.spread import MARGIN, Spread

_WIDEST = log(4.0)  # a pace further off is start-up or a wrong plan
_UNKNOWN = 1.5  # 1 took chance for news too often (88 % held instead of 90), 2 learnt slowly
_NARROWEST = log(1.02)  # equal ratios in the history are luck


class Between(NamedTuple):
    """A value and its bounds; s where nothing else is said."""

    low: float
    middle: float
    high: float


def by_progress(ratios: Spread, whole: float, done: float, taken: float) -> Between:
    """For `done` of `whole` planned s, reached in `taken` real s."""
    if whole <= 0 or done >= whole:
        return Between(0.0, 0.0, 0.0)
    share = max(0.0, done) / whole
    ratio = _ratio(ratios, share, taken / done) if done > 0 and taken > 0 else ratios.middle
    left = ratio * (whole - max(0.0, done))
    width = sqrt((1 - share) * (1 + share * (1 - share))) * max(1.0, ratio / ratios.middle)
    up = whole * (ratios.high - ratios.middle) + ratios.margin
    down = whole * (ratios.middle - ratios.low)
    return Between(max(0.0, left - width * down), left, left + width * up)


def by_clock(ratios: Spread, whole: float, taken: float) -> Between:
    """For a job of `whole` s of which nothing but the time `taken` is known. Past its end it may last MARGIN longer."""
    middle = max(0.0, ratios.middle * whole - taken)
    high = max(ratios.high * whole + ratios.margin - taken, middle + MARGIN)
    return Between(min(middle, max(0.0, ratios.low * whole - taken)), middle, high)


def _ratio(ratios: Spread, share: float, pace: float) -> float:
    past = log(ratios.middle)
    apart = max(-_WIDEST, min(_WIDEST, log(max(pace, 1e-9)) - past))
    bound = ratios.high if apart > 0 else ratios.low
    unlike = abs(apart) * sqrt(share) / (_UNKNOWN * max(_NARROWEST, abs(log(bound) - past)))
    return exp(past + share ** (1 / max(1.0, unlike)) * apart)
