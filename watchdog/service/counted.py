"""What became of attempts to deliver since the start, for the numbers."""

from collections import Counter

from watchdog.host.latency import Latency
from watchdog.record.parcels import Outcome


class Counted:
    """Attempts by outcome, and how long deliveries took."""

    def __init__(self) -> None:
        self.attempts: Counter[str] = Counter({outcome.value: 0 for outcome in Outcome})
        self.took = Latency()
        """s from the commit of a message to a server that took it"""

    def count(self, outcome: Outcome, took: float | None) -> None:
        """One attempt; `took` when it delivered."""
        self.attempts[outcome.value] += 1
        if took is not None:
            self.took.add(max(0.0, took))
