"""Where the next value will lie, from n past ones.

Without a distribution: n past values cut the line into n+1 blocks that are equally likely to hold the next one, so
    P(next below the j-th smallest) = j/(n+1),   19 values for 95 % and 99 for 99 % below the largest
    P(y of m next ones fall into w blocks) = C(w+y-1, y) C(n-w+m-y, m-y)/C(n+m, m)
    confidence that w blocks cover a share c of all = 1 - I_c(w, n+1-w)
Lognormal: exp(m ± t(1-α/2; n-1) s √(1/k + 1/n)), m and s of the logs, k values in the geometric mean to come.

All of it holds as long as past and next come from one and the same process in any order (exchangeable).
Source: US EPA, Statistical Analysis of Groundwater Monitoring Data at RCRA Facilities: Unified Guidance, EPA 530/R-09-007
(2009), chapters 17 and 18.
"""

from collections.abc import Callable, Sequence
from math import ceil, comb, exp, floor, log, sqrt
from statistics import fmean, stdev

from watchdog.statistics.quantiles import student_quantile
from watchdog.statistics.special import beta_tails

_HAIR = 1e-12  # a chance that is met exactly must not fail by rounding


def next_below(past: Sequence[float], chance: float) -> float | None:
    """Bound that the next value stays below with at least `chance`; None when there are too few past values."""
    rank = ceil(chance * (len(past) + 1) - _HAIR)
    return sorted(past)[max(rank, 1) - 1] if rank <= len(past) else None


def next_above(past: Sequence[float], chance: float) -> float | None:
    """Bound that the next value stays above with at least `chance`; None when there are too few past values."""
    mirrored = next_below([-value for value in past], chance)
    return None if mirrored is None else -mirrored


def next_between(past: Sequence[float], chance: float) -> tuple[float, float] | None:
    """Interval that holds the next value with at least `chance`, equal tails; None when there are too few past values."""
    rank = floor((1 - chance) / 2 * (len(past) + 1) + _HAIR)
    ordered = sorted(past)
    return None if rank < 1 or 2 * rank > len(past) else (ordered[rank - 1], ordered[len(past) - rank])


def chance_inside(past: int, blocks: int, following: int = 1, at_least: int | None = None) -> float:
    """Chance that at least so many (all) of the `following` values fall into `blocks` of the past + 1 blocks.

    Below the largest: blocks = n. Between the smallest and the largest: n - 1.
    """
    if not (0 < blocks <= past and following > 0):
        raise ValueError("1 to n of the n + 1 blocks can be meant, and at least one value to come")
    least = following if at_least is None else at_least
    ways = sum(
        comb(blocks + inside - 1, inside) * comb(past - blocks + following - inside, following - inside)
        for inside in range(least, following + 1)
    )
    return ways / comb(past + following, following)


def past_needed(chance: float, left_out: int, following: int = 1, at_least: int | None = None) -> int:
    """Past values needed so that those to come stay inside with at least `chance`.

    `left_out` blocks count as outside: 1 for a bound at the largest value, 2 for smallest to largest.
    """
    return _smallest(left_out, lambda n: chance_inside(n, n + 1 - left_out, following, at_least) >= chance - _HAIR)


def coverage_confidence(past: int, blocks: int, coverage: float) -> float:
    """Confidence that `blocks` of the past + 1 blocks hold at least the share `coverage` of all values (tolerance)."""
    return beta_tails(blocks, past + 1 - blocks, coverage, 1 - coverage)[1]


def past_needed_to_cover(coverage: float, confidence: float, left_out: int) -> int:
    """Past values needed so that a share `coverage` of all lies inside, with `confidence`."""
    return _smallest(left_out, lambda n: coverage_confidence(n, n + 1 - left_out, coverage) >= confidence - _HAIR)


def lognormal_between(past: Sequence[float], chance: float, mean_of: int = 1) -> tuple[float, float]:
    """Two-sided interval for the next value (or geometric mean of `mean_of` values), if the logs are normal."""
    logs = [log(value) for value in past]
    middle, reach = fmean(logs), student_quantile((1 + chance) / 2, len(logs) - 1) * _spread(logs, mean_of)
    return exp(middle - reach), exp(middle + reach)


def lognormal_below(past: Sequence[float], chance: float, mean_of: int = 1) -> float:
    """One-sided upper bound for the same."""
    logs = [log(value) for value in past]
    return exp(fmean(logs) + student_quantile(chance, len(logs) - 1) * _spread(logs, mean_of))


def _spread(logs: Sequence[float], mean_of: int) -> float:
    return stdev(logs) * sqrt(1 / mean_of + 1 / len(logs))


def _smallest(least: int, enough: Callable[[int], bool]) -> int:
    few, many = least - 1, least
    while not enough(many):
        few, many = many, 2 * many
    while many - few > 1:
        middle = (few + many) // 2
        few, many = (few, middle) if enough(middle) else (middle, many)
    return many
