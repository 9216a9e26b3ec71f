"""Wald's sequential probability ratio test of a share of failures: decide as soon as the evidence does, not sooner.

    ln A = ln((1-β)/α)    ln B = ln(β/(1-α))    K = ln(p₁(1-p₀)/(p₀(1-p₁)))
    h₁ = -ln B/K          h₂ = ln A/K           s = ln((1-p₀)/(1-p₁))/K
    after n trials: accept p₀ at ⌊s n - h₁⌋ failures or fewer, reject it at ⌈s n + h₂⌉ or more
    E n = (L ln B + (1-L) ln A)/(p ln(p₁/p₀) + (1-p) ln((1-p₁)/(1-p₀))),  L = chance to accept

Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.2.6, after Wald, Sequential Analysis (1947); cited from memory.
Overshoot is ignored in E n, so the true mean is larger and the true error rates are smaller: `exact` counts them.
"""

from math import ceil, floor, log
from typing import NamedTuple


class Course(NamedTuple):
    """What the test does at one true share."""

    rejected: float
    """chance that p₀ is rejected"""
    trials: float
    """mean number of trials until the decision"""


class Sprt(NamedTuple):
    """A test of p₀ against p₁ > p₀."""

    healthy: float
    """p₀"""
    bad: float
    """p₁"""
    false_alarm: float = 0.05
    """α: chance to reject p₀ although it is true"""
    missed: float = 0.10
    """β: chance to accept p₀ although p₁ is true"""

    @property
    def lines(self) -> tuple[float, float, float]:
        """h₁, h₂ and s."""
        k = _k(self.healthy, self.bad)
        return -self._ln_b / k, self._ln_a / k, slope(self.healthy, self.bad)

    def accepts_at(self, trials: int) -> int | None:
        """Most failures at which p₀ is accepted; None when it cannot be yet."""
        h1, _, s = self.lines
        number = floor(s * trials - h1)
        return number if number >= 0 else None

    def rejects_at(self, trials: int) -> int | None:
        """Fewest failures at which p₀ is rejected; None when it cannot be yet."""
        _, h2, s = self.lines
        number = ceil(s * trials + h2)
        return number if number <= trials else None

    def decision(self, trials: int, failures: int) -> bool | None:
        """True: p₀ is rejected. False: accepted. None: go on."""
        rejects, accepts = self.rejects_at(trials), self.accepts_at(trials)
        if rejects is not None and failures >= rejects:
            return True
        return False if accepts is not None and failures <= accepts else None

    def expected_trials(self, share: float) -> float:
        """Wald's mean number of trials at a true share p₀, p₁ or s (where the drift is 0)."""
        drift = share * log(self.bad / self.healthy) + (1 - share) * log((1 - self.bad) / (1 - self.healthy))
        if share == self.healthy:
            accepted = 1 - self.false_alarm
        elif share == self.bad:
            accepted = self.missed
        elif abs(drift) < 1e-12:
            up, down = log(self.bad / self.healthy), log((1 - self.healthy) / (1 - self.bad))
            return -self._ln_a * self._ln_b / (up * down)
        else:
            raise ValueError("known at p₀, p₁ and s only; `exact` gives it at any share")
        return (accepted * self._ln_b + (1 - accepted) * self._ln_a) / drift

    def exact(self, share: float) -> Course:
        """Chance to reject and mean number of trials at any true share, counted trial by trial."""
        open_ways, rejected, mean, trials = {0: 1.0}, 0.0, 0.0, 0
        while sum(open_ways.values()) > 1e-13:
            mean += sum(open_ways.values())
            trials += 1
            following: dict[int, float] = {}
            for failures, chance in open_ways.items():
                for more, part in ((0, 1 - share), (1, share)):
                    verdict = self.decision(trials, failures + more)
                    if verdict is None:
                        following[failures + more] = following.get(failures + more, 0.0) + chance * part
                    elif verdict:
                        rejected += chance * part
            open_ways = following
        return Course(rejected, mean)

    @property
    def _ln_a(self) -> float:
        return log((1 - self.missed) / self.false_alarm)

    @property
    def _ln_b(self) -> float:
        return log(self.missed / (1 - self.false_alarm))


def slope(healthy: float, bad: float) -> float:
    """s: the share of failures at which the evidence for p₀ and p₁ keeps its balance."""
    if not 0 < healthy < bad < 1:
        raise ValueError("the shares are 0 < p₀ < p₁ < 1")
    return log((1 - healthy) / (1 - bad)) / _k(healthy, bad)


def _k(healthy: float, bad: float) -> float:
    return log(bad * (1 - healthy) / (healthy * (1 - bad)))
