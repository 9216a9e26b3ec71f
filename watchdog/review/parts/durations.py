"""How long jobs took against what was planned, and how often the end fell where it was foretold."""

from collections.abc import Sequence
from typing import Final, NamedTuple

from watchdog.record.rows import JobRow
from watchdog.review.parts.common import Middle, Part, middle, part

NOMINAL: Final = 0.90
"""share of ends that the foretold interval is made to hold (both its bounds together)"""


class Durations(NamedTuple):
    """Jobs that were completed on the wire. Durations without holds."""

    completed: int
    ratios: tuple[float, ...]
    """real over planned, in the order of the jobs"""
    ratio: Middle
    seconds_over: float
    """s that all of these took beyond what was planned; below 0 when less"""
    inside: Part
    """of those with an interval: the end fell into it"""
    early: int
    late: int


def durations(of_term: Sequence[JobRow]) -> Durations:
    """Hold the completed jobs against their plans."""
    completed = [job for job in of_term if job.ending == "completed"]
    pairs = [(job.active, job.planned) for job in completed if job.active is not None and job.planned]
    ratios = tuple(active / planned for active, planned in pairs)
    bounded = [
        (job.active, job.planned_low, job.planned_high)
        for job in completed
        if job.active is not None and job.planned_low is not None and job.planned_high is not None
    ]
    early = sum(active < low for active, low, _ in bounded)
    late = sum(active > high for active, _, high in bounded)
    return Durations(
        len(completed),
        ratios,
        middle(ratios),
        sum(active - planned for active, planned in pairs),
        part(len(bounded) - early - late, len(bounded)),
        early,
        late,
    )
