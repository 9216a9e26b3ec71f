"""Heat without a job: the minutes of it, and an estimate of what telling somebody has spared.

For each `hot-idle` that somebody was told of, the estimate compares two ends of the heat. Seen: the alarm returned, which it
does when the nozzle cools or a job takes the heat up. Otherwise: the heat would have stood, at the temperature that the alarm
was raised with, until the next job of that machine began or the supervised day ended (outside the hours, or where none are
known: until midnight), whichever came first. So it is at most so much: somebody might have come by without being told.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final, NamedTuple

from watchdog.core.dose import rate
from watchdog.core.hours import supervised_until
from watchdog.record.rows import JobRow
from watchdog.record.term_rows import OccurrenceRow
from watchdog.review.parts.common import Middle, middle
from watchdog.review.rows import HotMinute, House

HOT_IDLE: Final = "hot-idle"


class Heat(NamedTuple):
    """Hot minutes of all machines, and what was spared."""

    in_jobs: int
    """minutes in which the nozzle was hot and that touch a job"""
    idle: int
    """minutes in which it was hot beside them, as far as they were seen"""
    alarms: int
    """`hot-idle` raised"""
    judged: int
    """of them: somebody was told, and the end was seen"""
    minutes: float
    """that these would have stood on, at most"""
    dose: float
    """equivalent minutes at the material's usual temperature in that time"""
    dose_unknown: int
    """of those judged: the temperature was not known, so they add no dose"""
    each: Middle
    """minutes of each one judged"""


def heat(jobs: Sequence[JobRow], occurrences: Sequence[OccurrenceRow], hot: Sequence[HotMinute], house: House) -> Heat:
    """Count the hot minutes and estimate what was spared. `jobs` of all time, oldest first."""
    by_machine: dict[str, list[JobRow]] = {}
    for job in jobs:
        by_machine.setdefault(job.machine, []).append(job)
    starts = {machine: [job.started for job in own] for machine, own in by_machine.items()}
    busy = sum(_busy(by_machine.get(minute.machine, []), starts.get(minute.machine, []), minute.at) for minute in hot)
    raised = [one for one in occurrences if one.alarm == HOT_IDLE]
    spared: list[float] = []
    dose, unknown = 0.0, 0
    for one in raised:
        ended = _returned(one)
        if one.first_told is None or ended is None:
            continue
        minutes = max(0.0, _otherwise(one, starts.get(one.machine, []), house) - ended) / 60
        spared.append(minutes)
        nozzle = one.evidence.get("nozzle")
        if isinstance(nozzle, int | float):
            dose += minutes * rate(house.plastic(one.machine).kinetics, nozzle)
        else:
            unknown += 1
    return Heat(busy, len(hot) - busy, len(raised), len(spared), sum(spared), dose, unknown, middle(spared))


def _busy(own: Sequence[JobRow], starts: Sequence[float], minute: float) -> bool:
    """A machine has one job at a time, so the last one that had begun tells."""
    begun = bisect_left(starts, minute + 60)
    if not begun:
        return False
    ended = own[begun - 1].ended
    return ended is None or ended > minute


def _returned(one: OccurrenceRow) -> float | None:
    """When the heat ended; an alarm that was let go unseen tells nothing."""
    return one.returned if one.returned is not None else one.cleared


def _otherwise(one: OccurrenceRow, starts: Sequence[float], house: House) -> float:
    """When the heat would have ended without a word."""
    following = bisect_right(starts, one.raised)
    next_job = starts[following] if following < len(starts) else float("inf")
    closing = None if house.week is None else supervised_until(house.week, one.raised, house.zone)
    if closing is None:
        day = datetime.fromtimestamp(one.raised, house.zone).date() + timedelta(days=1)
        closing = datetime(day.year, day.month, day.day, tzinfo=house.zone).timestamp()
    return min(next_job, closing)
