"""Cumulative sums (CUSUM): small shifts that last show sooner than in single values.

    S = max(0, S + x - k)     alarm when S exceeds h       upwards; downwards with the sign of x turned

For standardised values k = δ/2 for the shift δ (in standard deviations) worth catching, and h sets how long a healthy
process runs until a false alarm (`run_length`). For counts see `count_cusum`.
Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3.
"""

from collections.abc import Iterable
from itertools import accumulate


def step(so_far: float, value: float, reference: float) -> float:
    """The sum after one more value."""
    return max(0.0, so_far + value - reference)


def path(values: Iterable[float], reference: float, start: float = 0.0) -> tuple[float, ...]:
    """The sum after each value."""
    return tuple(accumulate(values, lambda so_far, value: step(so_far, value, reference), initial=start))[1:]


def first_above(sums: Iterable[float], limit: float) -> int | None:
    """Number (from 1) of the first sum that exceeds `limit`; None when none does."""
    return next((nth for nth, so_far in enumerate(sums, 1) if so_far > limit), None)
