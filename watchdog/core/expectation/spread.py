"""The ratio real/planned of this machine: its middle, and how far the next job may lie from it.

With 19 jobs or more the bounds are order statistics: the next ratio stays below the upper one with at least 95 %, and
above the lower one with at least 95 %, whatever the distribution (US EPA, EPA 530/R-09-007 (2009), chapter 18: rank
⌈0.95 (n+1)⌉ of n). That holds for jobs that are alike and independent. The middle is the median of the logarithms: an
over-run of 2 and an under-run of ½ weigh the same.

Before that the two are blended. The middle leans on the plan as on two jobs with a ratio of 1: median · n/(n+2), as
logarithms. The upper bound is 1.25 times the middle, or the largest ratio seen if that is more, and 5 minutes; the lower
bound is the middle over 1.25, or the smallest seen.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log
from statistics import median

from watchdog.statistics.prediction import next_above, next_below

ENOUGH = 19
"""jobs: the fewest that bound the next one with 95 % on one side, n/(n+1)"""
CHANCE = 0.95
"""one-sided; both bounds together hold with 90 %"""
FACTOR = 1.25
"""over-run before the machine has a history; project's choice"""
MARGIN = 300.0
"""s on top of that; project's choice"""
_PLAN_WEIGHS = 2  # jobs
_LEAST = 0.01  # a machine that was warm already waits for no heat; a logarithm needs more than 0


@dataclass(frozen=True, slots=True)
class Spread:
    """Ratios real/planned."""

    low: float
    middle: float
    high: float
    late: float
    """beyond this a job is not like the past ones"""
    margin: float
    """s on top of the upper bound"""
    jobs: int
    """that it was learnt from"""

    @property
    def by_ranks(self) -> bool:
        """The bounds are order statistics; otherwise they are the margins of a young history."""
        return self.jobs >= ENOUGH


def spread(ratios: Sequence[float]) -> Spread:
    """What past ratios say of the next one."""
    known = [max(_LEAST, ratio) for ratio in ratios]
    jobs = len(known)
    centre = median(log(ratio) for ratio in known) if known else 0.0
    low, high = next_above(known, CHANCE), next_below(known, CHANCE)
    if low is None or high is None:
        middle = exp(centre * jobs / (jobs + _PLAN_WEIGHS))
        high = max(FACTOR * middle, *known) if known else FACTOR
        low = min(middle / FACTOR, *known) if known else 1 / FACTOR
        return Spread(low, middle, high, high, MARGIN, jobs)
    middle = exp(centre)
    # the largest ratio seen, so that job-late is rarely wrong; but one wild job must not make the watch deaf: at most
    # twice as far from the middle as the 95 % bound
    late = min(max(known), high * high / middle)
    return Spread(low, min(max(middle, low), high), high, max(late, high), 0.0, jobs)
