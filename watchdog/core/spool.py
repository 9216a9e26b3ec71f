"""How much filament is on the spool: what a person last said, less what has gone from it since.

What has gone is told by the best witness of each moment: the plan of the job's file by its progress, else the filament that the
wire shows to be fed, else a motion sensor. The sensor comes last, since the usual wheel turns either way without telling
which, so what is drawn back and fed again counts twice with it. Witnesses change in the middle of a job (a plan is recognised,
a sensor goes quiet), so all three are followed and each mm counts once.
"""

from collections.abc import Sequence
from typing import NamedTuple

from watchdog.core.outlook import Outlook
from watchdog.core.snapshot import Sensed, SensorKind, Snapshot

_LONGEST = 5000.0  # mm that a sensor may move between two looks; more is another counter. Project's choice


class Spool(NamedTuple):
    """The account of one spool."""

    left: float
    """mm"""
    by: str
    """who said what was on it"""
    at: float
    """elapsed when it was said"""
    job: int | None = None
    """number of the job that was last followed"""
    used: float | None = None
    """mm of that job's plan that count as gone; None where it was met in its middle and no plan was known"""
    flowed: float | None = None
    """mm that the wire had shown"""
    motion: float | None = None
    """mm that the sensor had counted; None while it tells nothing"""


def followed(spool: Spool, seen: Snapshot, outlook: Outlook | None) -> Spool:
    """`spool` at the moment of `seen`."""
    job = seen.job
    number = None if job is None or job.ended is not None else job.number
    planned = None if outlook is None or outlook.job != number else outlook.used
    used = spool.used
    if number is not None and number != spool.job:  # a job that began under the account is followed from its first mm
        used = 0.0 if job is not None and job.started >= spool.at else planned
    motion = _counter(seen.sensors)
    moved = _moved(spool.motion, motion)
    fed = 0.0 if spool.flowed is None else max(0.0, seen.flowed - spool.flowed)
    if planned is not None and used is not None:
        gone = planned - used
    elif fed > 0 or moved is None:
        gone = fed
    else:
        gone = moved
    known = planned if planned is not None else None if used is None else used + gone
    return Spool(
        max(0.0, spool.left - gone),
        spool.by,
        spool.at,
        spool.job if number is None else number,
        known,
        seen.flowed,
        motion,
    )


def finished(spool: Spool, number: int, whole: float) -> Spool:
    """`spool` when job `number` has done all of its plan, `whole` mm: its last look came some seconds before the end."""
    if spool.job != number or spool.used is None:
        return spool
    rest = max(0.0, whole - spool.used)
    return spool._replace(left=max(0.0, spool.left - rest), used=spool.used + rest)


def _counter(sensors: Sequence[Sensed]) -> float | None:
    return next((one.value for one in sensors if one.kind is SensorKind.FILAMENT_MOTION), None)


def _moved(before: float | None, now: float | None) -> float | None:
    """mm between two readings; a counter that fell was drawn back a little, or began anew at 0."""
    if before is None or now is None:
        return None
    moved = now - before
    if moved < 0 and now < before / 2:
        moved = now
    return moved if abs(moved) <= _LONGEST else None
