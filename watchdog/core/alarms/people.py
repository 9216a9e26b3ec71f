"""What people do to one alarm: take it on, put it aside for a while, take it up again.

Each answers the alarm as it was, and nothing said, when there is nothing to do it to.
"""

from dataclasses import replace
from math import isfinite

from watchdog.core.alarms.alarm import Alarm
from watchdog.core.alarms.lifecycle import Step, unshelved
from watchdog.core.alarms.standing import Acknowledgement, Phase, Shelf, Standing, over
from watchdog.core.alarms.telling import changed
from watchdog.core.effects import Effect, Priority, Transition
from watchdog.core.events import Acknowledge, Shelve, Unshelve

SHELF_MOST = 24 * 3600.0  # s: no silence outlives a day (ISA-18.2 calls what stands for longer than a day stale)
SHELF_MOST_URGENT = 3600.0  # s: long enough to work at the machine, too short to be forgotten; our choice


def acknowledge(row: Alarm, standing: Standing, event: Acknowledge) -> Step:
    """Somebody took it on. One that has returned is cleared by it."""
    if standing.phase is not Phase.UNACKNOWLEDGED and standing.phase is not Phase.RETURNED:
        return standing, ()
    change = changed(Transition.ACKNOWLEDGED, row, standing, event.at)._replace(by=event.by, how=event.how)
    said: tuple[Effect, ...] = (change,)
    if standing.phase is Phase.RETURNED:
        return over(standing), (*said, change._replace(transition=Transition.CLEARED, by=None, how=None))
    taken = Acknowledgement(event.by, event.how, event.at)
    return replace(standing, phase=Phase.ACKNOWLEDGED, acknowledged=taken, due=None, gap=None), said


def shelve(row: Alarm, standing: Standing, event: Shelve) -> Step:
    """Silence it for `event.seconds`, or for as long as is allowed where that is less; not raised yet, or standing.

    A time that is no number above 0 does nothing. What was granted stands in the evidence (`shelved_s`).
    """
    if not isfinite(event.seconds) or event.seconds <= 0:
        return standing, ()
    urgent = (standing.priority or row.priority) is Priority.URGENT
    granted = min(event.seconds, SHELF_MOST_URGENT if urgent else SHELF_MOST)
    change = changed(Transition.SHELVED, row, standing, event.at)
    change = change._replace(
        evidence={**standing.evidence, "shelved_s": granted}, by=event.by, note=event.reason or None
    )
    shelf = Shelf(event.at.elapsed + granted, event.by, event.reason)
    return replace(standing, shelf=shelf), (change,)


def unshelve(row: Alarm, standing: Standing, event: Unshelve) -> Step:
    """End its shelf early. The next look tells it as if new where its condition is present."""
    if standing.shelf is None:
        return standing, ()
    return unshelved(row, standing, event.at, event.by, None)
