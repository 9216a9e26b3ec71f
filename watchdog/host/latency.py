"""How long something took, counted by bucket. Light: whoever only counts loads no metrics library."""

from dataclasses import dataclass, field

BOUNDS = (0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 5.0, 10.0, 30.0, 60.0, 300.0)
"""s: upper bounds of the histograms' buckets; from a quick answer of a machine to a mail that waited out an outage"""


@dataclass(slots=True)
class Latency:
    """How long something took, counted by bucket. Grows only."""

    buckets: list[int] = field(default_factory=lambda: [0] * (len(BOUNDS) + 1))
    total: float = 0.0

    def add(self, seconds: float) -> None:
        """Count one that took so long."""
        self.buckets[next((place for place, bound in enumerate(BOUNDS) if seconds <= bound), len(BOUNDS))] += 1
        self.total += seconds

    def copy(self) -> "Latency":
        """As it is now."""
        return Latency(list(self.buckets), self.total)
