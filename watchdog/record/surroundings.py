"""The last minutes of one machine, kept in memory so that an incident can be recorded from before it began.

Kept here and not on the disk, because one transaction a second would write several GB a day onto a memory card. The disk
gets what surrounds an incident, and one summary a minute.
"""

from collections import deque
from typing import Final, NamedTuple

from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction
from watchdog.record.minutes import Minute, Minutes

BEFORE: Final = 600.0
"""s kept, and recorded from before an incident: what led to it (the load, the question, the card swap) lies within"""
MOST_LINES: Final = 6_000
"""ten minutes at ten lines a second; a streamed job has more and keeps less time"""
LONGEST_LINE: Final = 400
"""characters of a line that are kept; a longer one is no traffic but noise"""
_MARK: Final = 10.0  # s between two marks of how far the line numbers had come


class RawLine(NamedTuple):
    """One line of traffic near an incident."""

    number: int
    """counts the lines of this machine since the service started"""
    at: Moment
    direction: Direction
    text: str


class Measured(NamedTuple):
    """What the machine reported at one moment; None where it did not."""

    number: int
    at: Moment
    nozzle: float | None
    """°C, as the next three"""
    nozzle_target: float | None
    bed: float | None
    bed_target: float | None
    progress: float | None
    """bytes, lines or %, as the job counts"""


class Excerpt(NamedTuple):
    """A piece of the surroundings, to be committed."""

    lines: tuple[RawLine, ...] = ()
    readings: tuple[Measured, ...] = ()
    dropped: int = 0
    """lines that should stand before the first one here, but were more than the ring holds"""
    minutes: tuple[Minute, ...] = ()
    """finished minute summaries that have not been written yet"""


class Surroundings:
    """A ring of lines and readings, bounded in time and in number. Not for several threads."""

    def __init__(self, most_lines: int = MOST_LINES, before: float = BEFORE) -> None:
        self._before = before
        self._lines: deque[RawLine] = deque(maxlen=most_lines)
        self._readings: deque[Measured] = deque(maxlen=most_lines)
        self._marks: deque[tuple[float, int]] = deque()
        self._minutes = Minutes()
        self._next_line = self._next_reading = 0
        self._lines_written = self._readings_written = 0  # everything below these numbers has been committed

    def line(self, at: Moment, direction: Direction, text: str) -> None:
        """A line of traffic went by."""
        if not self._marks or at.elapsed - self._marks[-1][0] >= _MARK:
            self._marks.append((at.elapsed, self._next_line))
        self._lines.append(RawLine(self._next_line, at, direction, _cut(text)))
        self._next_line += 1
        self._forget(at)

    def reading(
        self,
        at: Moment,
        nozzle: float | None,
        nozzle_target: float | None,
        bed: float | None,
        bed_target: float | None,
        progress: float | None,
    ) -> None:
        """The machine reported; °C, None where it did not. Progress in whatever the job counts."""
        measured = Measured(self._next_reading, at, nozzle, nozzle_target, bed, bed_target, progress)
        self._readings.append(measured)
        self._next_reading += 1
        self._minutes.add(at.stamp, nozzle, nozzle_target, bed, bed_target, progress)
        self._forget(at)

    def before(self) -> Excerpt:
        """All that is kept: for the batch that raises an alarm. What was written already is recognised by its number."""
        return self._since(0, 0)

    def pending(self) -> Excerpt:
        """What no commit has taken yet: for the batches while an incident is open."""
        return self._since(self._lines_written, self._readings_written)

    def summaries(self) -> Excerpt:
        """The finished minutes alone: for the batches while nothing is wrong."""
        return Excerpt(minutes=self._minutes.finished())

    def end_minute(self) -> None:
        """Count the running minute as finished: the service stops. A minute written in two parts is put together again."""
        self._minutes.end()

    def written(self, excerpt: Excerpt) -> None:
        """`excerpt` has been committed. Not called after a failed commit, so that the next excerpt holds it again."""
        if excerpt.lines:
            self._lines_written = max(self._lines_written, excerpt.lines[-1].number + 1)
        if excerpt.readings:
            self._readings_written = max(self._readings_written, excerpt.readings[-1].number + 1)
        self._minutes.written(excerpt.minutes)

    def _since(self, line: int, reading: int) -> Excerpt:
        lines = tuple(kept for kept in self._lines if kept.number >= line)
        readings = tuple(kept for kept in self._readings if kept.number >= reading)
        due = max(line, self._marks[0][1]) if self._marks else line
        dropped = max(0, lines[0].number - due) if lines else 0
        return Excerpt(lines, readings, dropped, self._minutes.finished())

    def _forget(self, at: Moment) -> None:
        oldest = at.elapsed - self._before
        while self._lines and self._lines[0].at.elapsed < oldest:
            self._lines.popleft()
        while self._readings and self._readings[0].at.elapsed < oldest:
            self._readings.popleft()
        while self._marks and self._marks[0][0] < oldest:
            self._marks.popleft()


def _cut(text: str) -> str:
    if len(text) <= LONGEST_LINE:
        return text
    ending = f"… ({len(text)} characters)"
    return text[: LONGEST_LINE - len(ending)] + ending
