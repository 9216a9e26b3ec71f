"""What is known of one calendar, and when it is to be read again."""

import os
from typing import NamedTuple

from watchdog.core.moment import Moment
from watchdog.core.timetable import Period
from watchdog.timetable.errand import Answer
from watchdog.timetable.options import Calendar

AGAIN = 300.0
"""s, at the most, until a source that was away is tried again: a network is often back soon; project's choice"""


class Sight(NamedTuple):
    """What tells that a file has not changed."""

    changed: int
    """ns"""
    size: int
    node: int


def seen(calendar: Calendar) -> Sight | None:
    """The calendar's file as it lies there; None where there is none to be seen. May block on a network share."""
    if calendar.source.file is None:
        return None
    try:
        facts = os.stat(calendar.source.file)
    except OSError:
        return None
    return Sight(facts.st_mtime_ns, facts.st_size, facts.st_ino)


class Kept:
    """The last answer about one calendar."""

    def __init__(self) -> None:
        self.periods: tuple[Period, ...] = ()
        self.mark: str | None = None
        """`Answer.mark` of `periods`"""
        self.stop = 0.0
        """stamp up to which it was read"""
        self.trouble: str | None = "it has not been read yet"
        self.remarks: tuple[str, ...] = ()
        self.read_at: float | None = None
        """s, elapsed"""
        self._away: str | None = None
        self._unnamed: str | None = None
        self._sight: Sight | None = None
        self._glimpse: Sight | None = None

    def due(self, now: Moment, calendar: Calendar, sight: Sight | None, stop: float) -> bool:
        """Whether it is to be read: at first, on a new day, when its file has changed or its time has come.

        A file that changes is left until two looks find it the same: it may still be being written.
        """
        if self.read_at is None or stop != self.stop:
            return True
        if sight != self._sight:
            still, self._glimpse = sight == self._glimpse, sight
            if still:
                return True
        is_file = calendar.source.file is not None
        every = float("inf") if is_file else calendar.every
        if self._away is not None or (self.trouble is not None and not (is_file and sight is not None)):
            every = min(every, AGAIN)
        return now.elapsed - self.read_at >= every

    def take(self, answer: Answer, now: Moment, sight: Sight | None, stop: float) -> None:
        """Remember what has come. Without anything readable the periods that are known stay."""
        if answer.mark is not None:
            self.mark = answer.mark
            if answer.periods is not None:
                self.periods, self._unnamed = answer.periods, answer.unnamed
        self.trouble, self._away = answer.trouble, answer.remark
        self.remarks = tuple(words for words in (self._away, self._unnamed) if words is not None)
        self.stop, self.read_at = stop, now.elapsed
        self._sight = self._glimpse = sight
