"""A stream of (byte, seconds, filament) → few knots that are near it everywhere.

From each knot the longest straight piece is drawn that ends on a point and passes every point between within the
tolerance. The points themselves come thinned: within `STEP` seconds only the first and the last one, which the tolerance
pays for, so that together nothing is off by more than `TOLERANCE`. Filament is exact at the knots.
"""

from array import array
from collections.abc import Iterable
from math import inf

from watchdog.core.plan import BLOCK, SHORT

TOLERANCE = 1.0
"""s"""
STEP = 0.2
"""s: points closer together than this are not looked at one by one"""
FILAMENT_STEP = 50.0
"""mm, about 0.15 g: at least one knot for so much"""
MOST_KNOTS = 700_000
"""11 MB, the most that the child can carry within 64 MB. Beyond this every other knot goes, and `tolerance` says how much
coarser the map is then; only jobs of many weeks come near"""


class Fit:
    """Collects points in rising order; bytes that do not rise are passed over."""

    def __init__(self) -> None:
        self.tolerance = TOLERANCE
        self.knot_bytes = array("I", [0])
        self.knot_seconds = array("d", [0.0])
        self.knot_filament = array("f", [0.0])
        self.still: dict[int, float] = {}
        self._byte, self._seconds, self._filament = 0, 0.0, 0.0  # the last point
        self._low, self._high = -inf, inf
        """slopes that pass every point since the last knot"""
        self._enough = FILAMENT_STEP

    def extend(self, places: Iterable[int], times: Iterable[float], fed: Iterable[float]) -> None:
        """Take in points: byte, s, mm."""
        b0, t0 = self.knot_bytes[-1], self.knot_seconds[-1]
        b1, t1, f1 = self._byte, self._seconds, self._filament
        low, high, enough = self._low, self._high, self._enough
        slack = self.tolerance - STEP
        for byte, seconds, filament in zip(places, times, fed, strict=True):
            if byte <= b1:
                continue
            if seconds - t1 > SHORT:
                self.stand(b1, seconds - t1)
            way = byte - b0
            slope = (seconds - t0) / way
            give = slack / way
            if low <= slope <= high and filament < enough:
                if slope - give > low:
                    low = slope - give
                if slope + give < high:
                    high = slope + give
            else:
                if b1 > b0:
                    self._knot(b1, t1, f1)
                    slack = self.tolerance - STEP
                    b0, t0 = b1, t1
                    way = byte - b0
                    slope = (seconds - t0) / way
                    give = slack / way
                enough = f1 + FILAMENT_STEP
                low, high = slope - give, slope + give
            b1, t1, f1 = byte, seconds, filament
        self._byte, self._seconds, self._filament = b1, t1, f1
        self._low, self._high, self._enough = low, high, enough

    def stand(self, byte: int, seconds: float) -> None:
        """The counter stands at `byte` for so long."""
        block = byte // BLOCK
        if seconds > self.still.get(block, SHORT):
            self.still[block] = seconds

    def finish(self, size: int, seconds: float) -> None:
        """Close at the end of the file; the job itself ends after `seconds`."""
        if size > self._byte:
            self.extend([size], [self._seconds], [self._filament])
        if self._byte > self.knot_bytes[-1]:
            self._knot(self._byte, self._seconds, self._filament)
        if seconds - self._seconds > SHORT:
            self.stand(size, seconds - self._seconds)

    def _knot(self, byte: int, seconds: float, filament: float) -> None:
        self.knot_bytes.append(byte)
        self.knot_seconds.append(seconds)
        self.knot_filament.append(filament)
        if len(self.knot_bytes) > MOST_KNOTS:
            self._thin()

    def _thin(self) -> None:
        """Every other knot goes; the tolerance grows by the worst that this moves the map."""
        bytes_, seconds = self.knot_bytes, self.knot_seconds
        worst = 0.0
        for n in range(1, len(bytes_) - 1, 2):
            share = (bytes_[n] - bytes_[n - 1]) / (bytes_[n + 1] - bytes_[n - 1])
            worst = max(worst, abs(seconds[n - 1] + share * (seconds[n + 1] - seconds[n - 1]) - seconds[n]))
        self.tolerance += worst
        last = bytes_[-1], seconds[-1], self.knot_filament[-1]
        for column in (self.knot_bytes, self.knot_seconds, self.knot_filament):
            del column[1::2]
        if self.knot_bytes[-1] != last[0]:
            self.knot_bytes.append(last[0])
            self.knot_seconds.append(last[1])
            self.knot_filament.append(last[2])
