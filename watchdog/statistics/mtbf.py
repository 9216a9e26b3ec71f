"""Mean time between failures (MTBF) at a constant failure rate, from r failures in a total running time T.

    observation ended at a set time     2T/χ²(1-α/2; 2r+2)  to  2T/χ²(α/2; 2r)
    observation ended with a failure    2T/χ²(1-α/2; 2r)    to  2T/χ²(α/2; 2r)
    no failure, one-sided               at least T/(-ln α)

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.5.1; the failure-terminated form from memory (MIL-HDBK-781
and textbooks). Times in any one unit; the MTBF comes in the same.
"""

from math import log
from typing import NamedTuple

from watchdog.statistics.quantiles import chi_square_quantile


class Mtbf(NamedTuple):
    """An estimate with its bounds, in the unit of the running time."""

    estimate: float | None
    """None without a failure"""
    low: float
    high: float | None
    """None without a failure: the low bound is then one-sided at the same confidence"""


def mtbf(running: float, failures: int, confidence: float = 0.90, *, ended_by_failure: bool = False) -> Mtbf:
    """MTBF with two-sided bounds; with no failure a one-sided low bound."""
    if not (running > 0 and failures >= 0 and 0 < confidence < 1):
        raise ValueError("MTBF needs a running time above 0, no negative count and a confidence between 0 and 1")
    if ended_by_failure and failures == 0:
        raise ValueError("an observation that ended with a failure has at least one")
    if failures == 0:
        return Mtbf(None, running / -log(1 - confidence), None)
    tail = (1 - confidence) / 2
    freedom = 2 * failures if ended_by_failure else 2 * failures + 2
    low = 2 * running / chi_square_quantile(1 - tail, freedom)
    high = 2 * running / chi_square_quantile(tail, 2 * failures)
    return Mtbf(running / failures, low, high)


def running_needed(goal: float, failures: int, confidence: float = 0.90) -> float:
    """Running time that shows an MTBF of at least `goal` if no more than `failures` happen in it (one-sided)."""
    if not (goal > 0 and failures >= 0):
        raise ValueError("a goal above 0 and no negative count are needed")
    return goal * chi_square_quantile(confidence, 2 * failures + 2) / 2
