"""When a message that no route took is tried again."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class BackOff:
    """Twice as long after every round, up to a cap. Common practice, no source."""

    first: float = 10.0
    """s after the first round; a school network that is just starting is usually there within half a minute"""
    most: float = 300.0
    """s; longer would outlast the time in which a high alarm asks for an answer"""

    def after(self, rounds: int) -> float:
        """s to wait after `rounds` rounds without success; a round is one try on every route that may still take it."""
        steps = min(max(rounds, 1) - 1, 32)  # bounded: a week of failures must not make a number without end
        return min(self.first * 2.0**steps, self.most)


def rounds_so_far(attempts: int, routes: int) -> int:
    """Whole rounds behind a parcel with `attempts` tries on a person with `routes` routes."""
    return attempts // max(routes, 1)
