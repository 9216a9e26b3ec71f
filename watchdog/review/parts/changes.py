"""What the figures offer for a change, the weightiest first. An offer is a figure; who knows the house decides."""

from collections.abc import Iterator, Sequence
from enum import StrEnum
from typing import Final, NamedTuple

from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Priority
from watchdog.review.parts.alarms import Alarms
from watchdog.review.parts.common import Part, part
from watchdog.review.parts.durations import NOMINAL, Durations
from watchdog.review.parts.jobs import Jobs
from watchdog.review.parts.losses import OTHER, UNSAID, Losses
from watchdog.review.parts.people import Response

USEFUL: Final = 0.70
"""help that is right less often is worse than none (Wickens & Dixon 2007, Theoretical Issues in Ergonomics Science 8)"""
_UNSAID: Final = 0.30
"""share of jobs without a word from which the other figures stand on weak feet; project's choice"""


class Offer(StrEnum):
    """What might be changed."""

    ALARM = "alarm"
    """to be retuned or, unless it is urgent, shelved"""
    CAUSE = "cause"
    """of most failures"""
    CHATTER = "chatter"
    LABELS = "labels"
    FORECAST = "forecast"
    RESPONSE = "response"


class Change(NamedTuple):
    """One offer."""

    offer: Offer
    subject: str
    """the alarm, the cause, the priority; empty where there is but one"""
    figure: Part
    sure: bool
    """the whole interval lies on that side"""
    urgent: bool
    """of an alarm: it may be retuned, and not be shelved"""


def changes(
    jobs: Jobs, losses: Losses, durations: Durations, alarms: Alarms, responses: Sequence[Response]
) -> tuple[Change, ...]:
    """All offers, the weightiest first."""
    doubtful = tuple(_doubtful(alarms))
    offers = [change for change in doubtful if change.sure]
    offers += _cause(losses)
    offers += [change for change in doubtful if not change.sure]
    offers += [Change(Offer.CHATTER, name, part(0, 0), True, _urgent(name)) for name in alarms.chattering]
    ended = jobs.jobs - jobs.running
    unsaid = part(jobs.unsaid, ended)
    if unsaid.share is not None and unsaid.share > _UNSAID:
        offers.append(Change(Offer.LABELS, "", unsaid, (unsaid.low or 0) > _UNSAID, False))
    if durations.inside.high is not None and durations.inside.high < NOMINAL:
        offers.append(Change(Offer.FORECAST, "", durations.inside, True, False))
    for response in responses:
        if response.in_time.high is not None and response.in_time.high < USEFUL:
            urgent = response.priority is Priority.URGENT
            offers.append(Change(Offer.RESPONSE, response.priority.value, response.in_time, True, urgent))
    return tuple(offers)


def _doubtful(alarms: Alarms) -> Iterator[Change]:
    """Alarms that were of use less often than helps, those with the most labels first."""
    for condition in sorted(alarms.conditions, key=lambda one: (-one.useful.of, one.alarm)):
        share, high = condition.useful.share, condition.useful.high
        if share is not None and high is not None and share < USEFUL:
            yield Change(Offer.ALARM, condition.alarm, condition.useful, high < USEFUL, _urgent(condition.alarm))


def _cause(losses: Losses) -> Iterator[Change]:
    """The commonest cause that has a name and came more than once."""
    named = (loss for loss in losses.causes if loss.name not in (UNSAID, OTHER) and loss.jobs.counted > 1)
    for loss in named:
        yield Change(Offer.CAUSE, loss.name, loss.jobs, (loss.jobs.low or 0) > 0.5, False)
        return


def _urgent(alarm: str) -> bool:
    row = TABLE.get(alarm)
    return row is not None and row.priority is Priority.URGENT
