"""Distribution functions and quantiles: normal, chi-square, Student's t, beta.

A quantile is the root of the distribution function on a scale without ends (ln x, logit x), found by Newton steps inside
a bracket that can only shrink; always on the smaller tail. Relative error about 1e-11. Definitions: NIST/SEMATECH
e-Handbook of Statistical Methods, section 1.3.6.6.
"""

from collections.abc import Callable
from math import erfc, exp, inf, isfinite, lgamma, log, sqrt
from statistics import NormalDist

from watchdog.statistics.special import beta_tails, gamma_tails

_STEPS = 200  # halvings alone would need about 60


def normal_chance(z: float) -> float:
    """P(Z <= z) of the standard normal distribution."""
    return erfc(-z / sqrt(2)) / 2


def normal_quantile(chance: float) -> float:
    """z with P(Z <= z) = chance (Wichura's AS 241, in the standard library)."""
    _check(chance)
    return NormalDist().inv_cdf(chance)


def chi_square_chance(value: float, freedom: float) -> float:
    """P(X <= value) at `freedom` degrees of freedom."""
    return gamma_tails(freedom / 2, value / 2)[0]


def chi_square_quantile(chance: float, freedom: float) -> float:
    """x with P(X <= x) = chance at `freedom` degrees of freedom."""
    _check(chance)
    return 2 * gamma_quantile(chance, freedom / 2)


def gamma_quantile(chance: float, a: float) -> float:
    """x with P(a, x) = chance."""
    _check(chance)

    def density(u: float) -> float:  # of ln x
        return exp(a * u - exp(u) - lgamma(a))

    return exp(_root(lambda u: gamma_tails(a, exp(u)), density, chance, log(a)))


def beta_quantile(chance: float, a: float, b: float) -> float:
    """x with I_x(a, b) = chance."""
    _check(chance)
    return 1 / (1 + exp(-_beta_logit(chance, a, b)))


def student_chance(t: float, freedom: float) -> float:
    """P(T <= t) at `freedom` degrees of freedom."""
    square = t * t
    outside = beta_tails(freedom / 2, 0.5, freedom / (freedom + square), square / (freedom + square))[0]
    return outside / 2 if t < 0 else 1 - outside / 2


def student_quantile(chance: float, freedom: float) -> float:
    """t with P(T <= t) = chance at `freedom` degrees of freedom."""
    _check(chance)
    outside = 2 * min(chance, 1 - chance)  # share beyond -t and t
    if outside >= 1:
        return 0.0
    size = sqrt(freedom * exp(-_beta_logit(outside, freedom / 2, 0.5)))
    return -size if chance < 0.5 else size


def _beta_logit(chance: float, a: float, b: float) -> float:
    def tails(u: float) -> tuple[float, float]:
        return beta_tails(a, b, 1 / (1 + exp(-u)), 1 / (1 + exp(u)))

    def density(u: float) -> float:  # of logit x
        x, rest = 1 / (1 + exp(-u)), 1 / (1 + exp(u))
        return exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log(rest))

    return _root(tails, density, chance, log(a / b))


def _root(
    tails: Callable[[float], tuple[float, float]], density: Callable[[float], float], chance: float, guess: float
) -> float:
    """Where the lower tail is `chance`."""
    upper = chance > 0.5
    wanted = 1 - chance if upper else chance

    def short(u: float) -> float:  # below 0 left of the root
        below, above = tails(u)
        return wanted - above if upper else below - wanted

    low, high, width = guess, guess, 1.0
    while short(low) > 0 and low > -700:
        low, width = max(-700.0, low - width), 2 * width
    width = 1.0
    while short(high) < 0 and high < 700:
        high, width = min(700.0, high + width), 2 * width
    u = (low + high) / 2
    for _ in range(_STEPS):
        miss = short(u)
        if miss == 0:
            break
        low, high = (u, high) if miss < 0 else (low, u)
        slope = density(u)
        step = u - miss / slope if slope > 0 else inf
        following = step if isfinite(step) and low < step < high else (low + high) / 2
        if abs(following - u) <= 1e-15 * max(1.0, abs(u)):
            return following
        u = following
    return u


def _check(chance: float) -> None:
    if not 0 < chance < 1:
        raise ValueError("a chance lies between 0 and 1, both excluded")
