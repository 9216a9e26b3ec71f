"""What one person was told in one day, held against the budget of `pace`: inside lessons, outside, and in the busiest hour."""

from collections.abc import Iterable
from datetime import date, datetime, time, timedelta
from typing import NamedTuple, Protocol

from watchdog.core.effects import Priority
from watchdog.core.routing.pace import HOUR, Budget
from watchdog.core.timetable import Timetable, presence


class Told(Protocol):
    """One message to one person, as the record keeps it."""

    @property
    def person(self) -> str: ...
    @property
    def priority(self) -> Priority: ...
    @property
    def delivered(self) -> float | None:
        """stamp; None: not delivered"""


class DayLoad(NamedTuple):
    """What went out as one message, with one stamp, counts once."""

    in_lessons: int
    outside: int
    urgent: int
    """of both: those that held anything urgent"""
    busiest_hour: int
    """the most that came within any 60 min of the day, urgent ones left out"""

    @property
    def beyond(self) -> bool:
        """More inside lessons than a day in twenty may bring."""
        return self.in_lessons > Budget().of_95_in_100


def load_of(messages: Iterable[Told], timetable: Timetable, person: str, day: date) -> DayLoad:
    """What `person` was told on the local `day` of the timetable's zone. `messages` may hold other people's and other days'."""
    begin, end = (datetime.combine(day + timedelta(days=days), time(), timetable.zone).timestamp() for days in (0, 1))
    urgent: dict[float, bool] = {}
    for message in messages:
        at = message.delivered
        if message.person == person and at is not None and begin <= at < end:
            urgent[at] = urgent.get(at, False) or message.priority is Priority.URGENT
    inside = sum(presence(timetable, at).lesson for at in urgent)
    calm = sorted(at for at, pressing in urgent.items() if not pressing)
    busiest = max((sum(at <= other < at + HOUR for other in calm) for at in calm), default=0)
    return DayLoad(inside, len(urgent) - inside, sum(urgent.values()), busiest)
