"""Minute summaries of what a machine reports: small enough to be kept for good."""

from collections import deque
from collections.abc import Collection
from typing import Final, NamedTuple

MOST: Final = 1_440
"""minutes that wait for a record that cannot be written: a day; the oldest give way"""


class Spread(NamedTuple):
    """One temperature over one minute, °C."""

    low: float
    high: float
    total: float
    """sum of the readings, so that two parts of a minute can be put together"""
    readings: int

    @property
    def mean(self) -> float:
        """°C"""
        return self.total / self.readings

    def with_reading(self, now: float) -> "Spread":
        """This and one reading more."""
        return Spread(min(self.low, now), max(self.high, now), self.total + now, self.readings + 1)


class Minute(NamedTuple):
    """One minute of one machine; None where nothing was reported."""

    number: int
    """whole minutes since 1970-01-01T00:00Z"""
    nozzle: Spread | None = None
    nozzle_target: float | None = None
    """the highest of the minute, °C, as the bed's"""
    bed: Spread | None = None
    bed_target: float | None = None
    progress: float | None = None
    """the last of the minute"""


class Minutes:
    """Sums up readings as they come."""

    def __init__(self) -> None:
        self._running: Minute | None = None
        self._finished: deque[Minute] = deque(maxlen=MOST)

    def add(
        self,
        stamp: float,
        nozzle: float | None,
        nozzle_target: float | None,
        bed: float | None,
        bed_target: float | None,
        progress: float | None,
    ) -> None:
        """One reading at `stamp`."""
        number = int(stamp // 60)
        if self._running is not None and self._running.number != number:
            self.end()
        sofar = self._running or Minute(number)
        self._running = Minute(
            number,
            _spread(sofar.nozzle, nozzle),
            _higher(sofar.nozzle_target, nozzle_target),
            _spread(sofar.bed, bed),
            _higher(sofar.bed_target, bed_target),
            sofar.progress if progress is None else progress,
        )

    def end(self) -> None:
        """Count the running minute as finished."""
        if self._running is not None:
            self._finished.append(self._running)
            self._running = None

    def finished(self) -> tuple[Minute, ...]:
        """What waits to be written."""
        return tuple(self._finished)

    def written(self, minutes: Collection[Minute]) -> None:
        """These need not be kept any longer."""
        done = set(minutes)
        self._finished = deque((minute for minute in self._finished if minute not in done), maxlen=MOST)


def _spread(sofar: Spread | None, now: float | None) -> Spread | None:
    if now is None:
        return sofar
    return Spread(now, now, now, 1) if sofar is None else sofar.with_reading(now)


def _higher(sofar: float | None, now: float | None) -> float | None:
    if sofar is None or now is None:
        return now if sofar is None else sofar
    return max(sofar, now)
