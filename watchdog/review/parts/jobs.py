"""Jobs and hours, and how many were good: what people said, and beside it what the wire showed."""

from collections.abc import Sequence
from typing import NamedTuple

from watchdog.record import blindness
from watchdog.record.rows import JobRow
from watchdog.record.term_rows import BlindRow, Result
from watchdog.review.parts.common import Part, Sum, failed, judged, part, total


class Ending(NamedTuple):
    """Jobs that ended in one way on the wire, by what people said of them."""

    ending: str
    """'completed', 'abandoned', 'halted', 'lost', 'unseen'; 'runs' while it does"""
    jobs: int
    good: int
    failed: int
    unknown: int
    """somebody looked and could not tell"""
    unsaid: int


class Blind(NamedTuple):
    """Times in which one machine was not seen."""

    machine: str
    seconds: float
    spans: int


class Jobs(NamedTuple):
    """Jobs that began in the term."""

    jobs: int
    running: int
    """that had not ended yet"""
    taken: Sum
    """s from start to end"""
    active: Sum
    """s executed"""
    held: Sum
    heating: Sum
    good: Part
    """of those that a person called good or failed"""
    unknown: int
    unsaid: int
    """ended, and nobody has said anything of the part"""
    completed: Part
    """of those that ended: what the wire alone would call a success"""
    endings: tuple[Ending, ...]
    partly_blind: Part
    """of those that ended: in part not seen"""
    blind: tuple[Blind, ...]


def jobs(
    of_term: Sequence[JobRow], blind: Sequence[BlindRow], machines: Sequence[str], since: float, until: float
) -> Jobs:
    """Count the jobs of a term."""
    ended = [job for job in of_term if job.ended is not None]
    judgements = [job for job in of_term if judged(job)]
    return Jobs(
        jobs=len(of_term),
        running=len(of_term) - len(ended),
        taken=total(job.seconds for job in ended),
        active=total(job.active for job in ended),
        held=total(job.held for job in ended),
        heating=total(job.heating for job in ended),
        good=part(sum(not failed(job) for job in judgements), len(judgements)),
        unknown=sum(job.label.outcome is Result.UNKNOWN for job in of_term),
        unsaid=sum(job.label.outcome is None for job in ended),
        completed=part(sum(job.ending == "completed" for job in ended), len(ended)),
        endings=_endings(of_term),
        partly_blind=part(sum(bool(job.blind) for job in ended), len(ended)),
        blind=tuple(
            Blind(
                machine, blindness.seconds(blind, machine, since, until), sum(span.machine == machine for span in blind)
            )
            for machine in machines
        ),
    )


def _endings(of_term: Sequence[JobRow]) -> tuple[Ending, ...]:
    groups: dict[str, list[JobRow]] = {}
    for job in of_term:
        groups.setdefault("runs" if job.ended is None else job.ending or "unseen", []).append(job)
    found = [
        Ending(
            ending,
            len(group),
            sum(job.label.outcome is Result.GOOD for job in group),
            sum(failed(job) for job in group),
            sum(job.label.outcome is Result.UNKNOWN for job in group),
            sum(job.label.outcome is None for job in group),
        )
        for ending, group in groups.items()
    ]
    return tuple(sorted(found, key=lambda one: (-one.jobs, one.ending)))
