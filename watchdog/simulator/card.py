"""The storage card and the reader that runs ahead of the nozzle.

The byte that a controller tells is where its reader is: ahead of the nozzle by the command slots and the queue of moves.
Comments are passed at reading speed, so a long block of them at the end is gone within seconds while the last moves run.
"""

import re
from functools import lru_cache
from math import inf
from typing import NamedTuple

from watchdog.simulator.gcode import Order, read_order

READING = 30_000.0
"""bytes/s passed in comments; common practice, no source"""
SHORT_GAP = 400
"""bytes of comment that cost no noticeable time"""


class Contents(NamedTuple):
    """A job file as the reader meets it."""

    orders: tuple[Order, ...]
    ends: tuple[int, ...]
    """byte behind each order's line"""
    size: int


@lru_cache(maxsize=16)
def contents(raw: bytes) -> Contents:
    """The orders of a job file with their places."""
    orders: list[Order] = []
    ends: list[int] = []
    at = 0
    for line in raw.splitlines(keepends=True):
        at += len(line)
        order = read_order(line.decode("utf-8", "replace"))
        if order is not None:
            orders.append(order)
            ends.append(at)
    return Contents(tuple(orders), tuple(ends), len(raw))


@lru_cache(maxsize=64)
def short_names(names: tuple[str, ...]) -> dict[str, str]:
    """8.3 names in upper case for long ones; ``~n`` depends on what else lies on the card."""
    given: dict[str, str] = {}
    for name in names:
        stem, _, end = name.rpartition(".")
        letters = re.sub(r"[^A-Z0-9-]", "", (stem or end).upper())
        suffix = {"GCODE": "GCO"}.get(end.upper(), end.upper()[:3])
        short = f"{letters}.{suffix}"
        if len(letters) > 8 or end.upper() != suffix:
            nth = 1
            while (short := f"{letters[:6]}~{nth}.{suffix}") in given.values():
                nth += 1
        given[name] = short
    return given


_COOLING = re.compile(rb"^M(?:104|109|140|190)(?=[^\n;]*S0+(?:\.0*)?\s*(?:;|\r?$))", re.MULTILINE)


class Card:
    """What lies on the card, which file is open, and where its reader is."""

    def __init__(self, files: dict[str, bytes]) -> None:
        self.files = files
        self.present = True
        self.stuck = False
        """reads bring nothing, and nobody notices"""
        self.failing = False
        """reads fail, and the controller says so again and again"""
        self.start_ignored = False
        """the open file does not start, although everything says it has"""
        self.open: str | None = None
        """long name of the open file"""
        self.running = False
        self.paused = False
        self.index = 0
        self.in_tail = False
        """the reader is in the comments behind the last order, or through them"""
        self.begun_gap = 0.0
        self.gap_over = -inf
        """when the reader is through the comments that it is in"""
        self._contents = Contents((), (), 0)

    @property
    def size(self) -> int:
        """bytes of the open file; 0 without one."""
        return self._contents.size

    def choose(self, name: str) -> bool:
        """Open a file by its long or short name; False when it is not there."""
        long = self.find(name)
        if long is None or not self.present:
            return False
        self.open = long
        self._contents = contents(self.files[long])
        self.running = self.paused = False
        self.index = 0
        self._no_gap()
        return True

    def find(self, name: str) -> str | None:
        """The long name of a file known by either name, in any case."""
        wanted = name.strip().lower()
        for long, short in short_names(tuple(self.files)).items():
            if wanted in (long.lower(), short.lower()):
                return long
        return None

    def short(self) -> str:
        """8.3 name of the open file; '' without one."""
        return "" if self.open is None else short_names(tuple(self.files))[self.open]

    def close(self) -> None:
        """No file is open any more."""
        self.open = None
        self._contents = Contents((), (), 0)
        self.running = self.paused = False
        self.index = 0
        self._no_gap()

    def byte(self, now: float) -> int:
        """Where the reader is."""
        ends, index = self._contents.ends, self.index
        before = ends[index - 1] if index else 0
        if now < self.gap_over:
            return before + int((now - self.begun_gap) * READING)
        return self._contents.size if self.in_tail else before

    def seek(self, byte: int) -> None:
        """Go on reading from the first order that ends behind `byte`."""
        self.index = sum(1 for end in self._contents.ends if end <= byte)
        self._no_gap()

    def at_end(self, now: float) -> bool:
        """Everything has been read, the comments at the tail as well."""
        if self.index < len(self._contents.orders) or self.stuck or self.failing:
            return False
        if not self.in_tail:
            self.in_tail = True
            self._gap(self._contents.size - (self._contents.ends[-1] if self._contents.ends else 0), now)
        return now >= self.gap_over

    def read(self, now: float) -> Order | None:
        """The next order; None when the reader brings none now."""
        if self.stuck or self.failing or now < self.gap_over:
            return None
        orders, ends, index = self._contents.orders, self._contents.ends, self.index
        if index >= len(orders):
            return None
        if self.gap_over == -inf:
            length = ends[index] - (ends[index - 1] if index else 0)
            if length > SHORT_GAP:
                self._gap(length, now)
                return None
        self.index = index + 1
        self.gap_over = -inf
        return orders[index]

    def without_cooling(self) -> None:
        """The open file's orders that turn heat off become screen texts of the same length, so every byte keeps its place."""
        if self.open is not None:
            self.files[self.open] = _COOLING.sub(b"M117", self.files[self.open])
            self._contents = contents(self.files[self.open])

    def _no_gap(self) -> None:
        self.in_tail = False
        self.gap_over = -inf

    def _gap(self, length: int, now: float) -> None:
        self.begun_gap = now
        self.gap_over = now + length / READING
