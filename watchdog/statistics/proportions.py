"""How well a share is known from x successes in n trials, and how many successes in a row show a reliability.

    Wilson            (p + z²/2n ± z √(p(1-p)/n + z²/4n²)) / (1 + z²/n),  p = x/n
    Clopper-Pearson   beta(α/2; x, n-x+1)  to  beta(1-α/2; x+1, n-x)
    no failure in n   upper bound 1 - (1-C)^(1/n), about 3/n at C = 95 %
    success run       n = ⌈ln(1-C)/ln R⌉

Sources: NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4.1 (Wilson) and 7.2.4.2 (exact tail sums). Rule of three:
Hanley & Lippman-Hand, JAMA 249 (1983), cited from memory.
"""

from math import ceil, exp, expm1, log, sqrt

from watchdog.statistics.quantiles import beta_quantile, normal_quantile
from watchdog.statistics.special import beta_tails


def wilson(successes: int, trials: int, confidence: float = 0.95) -> tuple[float, float]:
    """Two-sided Wilson interval of a share; its mean coverage is close to `confidence`."""
    _check(successes, trials, confidence)
    z = normal_quantile((1 + confidence) / 2)
    share, square = successes / trials, z * z / trials
    middle = (share + square / 2) / (1 + square)
    half = sqrt(square * (share * (1 - share) + square / 4)) / (1 + square)
    low = 0.0 if successes == 0 else max(0.0, middle - half)
    high = 1.0 if successes == trials else min(1.0, middle + half)
    return low, high


def clopper_pearson(successes: int, trials: int, confidence: float = 0.95) -> tuple[float, float]:
    """Two-sided exact interval of a share; covers at least `confidence`, usually more."""
    _check(successes, trials, confidence)
    tail = (1 - confidence) / 2
    return _lower(successes, trials, tail), _upper(successes, trials, tail)


def upper_bound(successes: int, trials: int, confidence: float = 0.95) -> float:
    """One-sided exact upper bound of a share (1 - (1-C)^(1/n) when there was no success)."""
    _check(successes, trials, confidence)
    return _upper(successes, trials, 1 - confidence)


def lower_bound(successes: int, trials: int, confidence: float = 0.95) -> float:
    """One-sided exact lower bound of a share."""
    _check(successes, trials, confidence)
    return _lower(successes, trials, 1 - confidence)


def rule_of_n(trials: int, confidence: float = 0.95) -> float:
    """Quick upper bound of a share after no event in `trials`: -ln(1-C)/n, the 'rule of three' at 95 %."""
    _check(0, trials, confidence)
    return -log(1 - confidence) / trials


def success_run(reliability: float, confidence: float = 0.95, failures: int = 0) -> int:
    """Trials needed to show at least `reliability` when no more than `failures` of them fail."""
    if not (0 < reliability < 1 and 0 < confidence < 1 and failures >= 0):
        raise ValueError("reliability and confidence lie between 0 and 1, failures are not negative")
    few = max(failures + 1, ceil(log(1 - confidence) / log(reliability) - 1e-9))
    if failures == 0:
        return few
    many = few
    while not _shown(many, failures, reliability, confidence):
        few, many = many, 2 * many
    while many - few > 1:
        middle = (few + many) // 2
        few, many = (few, middle) if _shown(middle, failures, reliability, confidence) else (middle, many)
    return many


def _shown(trials: int, failures: int, reliability: float, confidence: float) -> bool:
    # P(at most `failures` fail) at just that reliability
    seen = beta_tails(trials - failures, failures + 1, reliability, 1 - reliability)[0]
    return seen <= 1 - confidence + 1e-12


def _upper(successes: int, trials: int, tail: float) -> float:
    if successes == trials:
        return 1.0
    if successes == 0:
        return -expm1(log(tail) / trials)
    return beta_quantile(1 - tail, successes + 1, trials - successes)


def _lower(successes: int, trials: int, tail: float) -> float:
    if successes == 0:
        return 0.0
    if successes == trials:
        return exp(log(tail) / trials)
    return beta_quantile(tail, successes, trials - successes + 1)


def _check(successes: int, trials: int, confidence: float) -> None:
    if not (0 <= successes <= trials and trials > 0):
        raise ValueError("a share needs at least one trial and 0 to that many successes")
    if not 0 < confidence < 1:
        raise ValueError("a confidence lies between 0 and 1, both excluded")
