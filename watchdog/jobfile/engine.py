"""What both engines share: pieces of a file in, whole lines out, and a plan at the end."""

import re
from abc import ABC, abstractmethod
from array import array
from collections.abc import Sequence
from hashlib import sha256
from typing import NamedTuple

from watchdog.core.plan import Plan, Stated
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.modal import Modal
from watchdog.jobfile.rows import HeatSet, Rows, Wait
from watchdog.jobfile.rules import Faults, Rules
from watchdog.jobfile.stated import Ends
from watchdog.jobfile.timeline import Timeline

LONGEST_LINE = 65_536
"""bytes; a longer line is passed over. Comments of settings come near it"""
MOST_ROWS = 16_384
"""moves that are held before they are planned, whatever the batch"""
LARGEST = 2**32 - 1
"""bytes: a knot holds no more, nor does a card's file system"""

_MARK = b"\xef\xbb\xbf"
"""what some editors put before UTF-8 text"""
_LEFTOVER = re.compile(r"\s*(?:[GM]\d|$)", re.IGNORECASE)


class Made(NamedTuple):
    """One move as it was planned; only made when asked for."""

    end: int
    """byte behind its line"""
    begins: float
    """planned s"""
    seconds: float
    entry: float
    """mm/s"""
    leave: float
    """mm/s"""
    length: float
    """mm"""


class Engine(ABC):
    """Reads one file and plans it: `feed` every piece, then `finish` once.

    `made`, when given, receives every move: for tests and for drawing, since it grows with the file.
    """

    batch = 65_536
    """bytes that are read at once, however the pieces come"""

    def __init__(self, limits: MachineLimits, rules: Rules | None = None, made: list[Made] | None = None) -> None:
        self.rules = rules or Rules()
        self.faults = Faults()
        self.rows = Rows()
        self.modal = Modal(limits, self.rows, self.faults)
        self.timeline = Timeline(limits, self.rules, self.faults)
        self.limits = limits
        self.made = made
        self.size = 0
        self.layers: list[int] = []
        self.too_fast = 0
        self.absurd = 0
        self._digest = sha256()
        self._ends = Ends()
        self._held = b""
        self._at = 0  # byte at which `_held` begins
        self._skipping = False
        self._warm = self._homed = False
        self._asked = 0.0

    def feed(self, piece: bytes) -> None:
        """Take in the next bytes of the file."""
        self._digest.update(piece)
        self._ends.feed(piece)
        self.size += len(piece)
        if self.size > LARGEST:
            raise ValueError("a job file of 4 GiB or more cannot stand on a card")
        if b"\r" in piece:
            piece = piece.replace(b"\r", b"\n")  # CRLF becomes a line and an empty one: no byte moves
        self._held += piece
        self._pump()

    def finish(self) -> Plan:
        """The file has ended: its plan."""
        self._pump()
        if self._held and not self._skipping:
            if not self._held.endswith(b"\n"):
                self._unended(self._held.rpartition(b"\n")[2])
                self._held += b"\n"
            self._hand(self._held)
        self._held = b""
        self.end()
        return self._plan()

    @abstractmethod
    def read(self, lines: bytes, at: int) -> None:
        """Read whole lines, each ended by LF, that begin at byte `at`."""

    @abstractmethod
    def drain(self) -> None:
        """Plan the rows read so far and empty them, in the middle of a batch: arcs make many rows of few bytes."""

    @abstractmethod
    def end(self) -> None:
        """Plan what is still held."""

    def _pump(self) -> None:
        """Hand on whole lines, a batch at a time; a line longer than the longest is passed over."""
        while True:
            if self._skipping:
                end = self._held.find(b"\n") + 1
                self._drop(end or len(self._held))
                if not end:
                    return
                self._skipping = False
            if len(self._held) < self.batch:
                return
            end = self._held.rfind(b"\n", 0, self.batch) + 1 or self._held.find(b"\n", 0, LONGEST_LINE) + 1
            if end:
                self._hand(self._held[:end])
                self._drop(end)
            elif len(self._held) < LONGEST_LINE:
                return
            else:
                self.modal.odd += not self._held[:LONGEST_LINE].lstrip().startswith(b";")
                self._skipping = True

    def _hand(self, lines: bytes) -> None:
        if self._at == 0 and lines.startswith(_MARK):
            lines = b" " * len(_MARK) + lines[len(_MARK) :]
        self.read(lines, self._at)

    def _drop(self, count: int) -> None:
        self._held = self._held[count:]
        self._at += count

    def too_long(self, text: str) -> bool:
        """A line that is passed over; counted unless it is a comment."""
        if len(text) < LONGEST_LINE:
            return False
        self.modal.odd += not text.lstrip().startswith(";")
        return True

    def bound(self, x: float, y: float, z: float, start: int) -> None:
        """Hold a place to the machine's room."""
        if self.rules.bounds is None or not self.modal.homed:
            return
        for letter, place, (least, most) in zip("XYZ", (x, y, z), self.rules.bounds, strict=True):
            if not least <= place <= most:
                words = f"{letter}{place:g} is outside {least:g} to {most:g} mm"
                self.faults.add("outside-machine", words, start, most=5)

    def first_fed(self, first: int, last: int) -> int | None:
        """Byte of the first of these rows that feeds filament."""
        rows = self.rows
        return next((rows.start[n] for n in range(first, last) if rows.e[n] > 0), None)

    def first_moved(self, first: int, last: int) -> int | None:
        """Byte of the first of these rows that moves the nozzle."""
        rows = self.rows
        return next((rows.start[n] for n in range(first, last) if rows.x[n] or rows.y[n] or rows.z[n]), None)

    def judge(self, events: Sequence[tuple[int, Wait | HeatSet]], count: int) -> None:
        """Filament before the nozzle is hot, motion before homing."""
        if self._warm and self._homed and not events:
            return
        at = 0
        for row, event in (*events, (count, None)):
            if not self._warm and row > at and "cold-extrusion" not in self.faults:
                first = self.first_fed(at, row)
                if first is not None:
                    self.faults.add("cold-extrusion", "filament is fed before the nozzle was hot", first)
            if not self._homed and row > at:
                first = self.first_moved(at, row)
                if first is not None:
                    self.faults.add("not-homed", "the machine is moved before it was homed", first)
                    self._homed = True  # told once
            at = row
            if isinstance(event, HeatSet) and event.heater == "nozzle":
                self._warm = self._warm and event.target >= self.rules.melts_at
                self._asked = event.target
            elif isinstance(event, Wait):
                self._homed = self._homed or event.kind == "home"
                if event.kind == "heat" and event.heater in (None, "nozzle"):
                    self._warm = self._asked >= self.rules.melts_at

    def _unended(self, line: bytes) -> None:
        """The last line has no end: a move so cut may have lost digits."""
        text = line.decode("latin-1").strip().upper()
        if text.startswith(("G0", "G1", "G2", "G3")) or not _LEFTOVER.match(text):
            self.faults.add("last-line-cut", f"the last line has no end: {text[:60]}", self.size - len(line))

    def _plan(self) -> Plan:
        timeline, modal = self.timeline, self.modal
        timeline.finish(self.size)
        if self.size == 0:
            self.faults.add("empty", "the file holds nothing")
        elif timeline.moves == 0:
            self.faults.add("no-moves", "nothing in the file moves the machine")
        if self.too_fast:
            self.faults.add("too-fast", f"{self.too_fast} moves ask for more speed than an axis has")
        if self.absurd:
            self.faults.add("absurd-move", f"{self.absurd} moves over a kilometre or more were left out")
        if modal.unknown:
            codes = ", ".join(sorted(modal.unknown)[:8])
            self.faults.add("unknown-commands", f"{sum(modal.unknown.values())} times a command not known: {codes}")
        fit = timeline.fit
        blocks = sorted(fit.still)
        stated: tuple[Stated, ...] = self._ends.stated()
        return Plan(
            size=self.size,
            digest=self._digest.hexdigest(),
            seconds=timeline.clock,
            moving=timeline.moving,
            filament=timeline.filament,
            moves=timeline.moves,
            knot_bytes=fit.knot_bytes.tobytes(),
            knot_seconds=fit.knot_seconds.tobytes(),
            knot_filament=fit.knot_filament.tobytes(),
            still_blocks=array("I", blocks).tobytes(),
            still_seconds=array("f", [fit.still[block] for block in blocks]).tobytes(),
            tolerance=fit.tolerance,
            holds=tuple(timeline.holds),
            layers=tuple(self.layers),
            heats=tuple(timeline.heats),
            faults=tuple(
                sorted(self.faults.found, key=lambda fault: (fault.byte is None, fault.byte or 0, fault.name))
            ),
            stated=stated,
            odd=modal.odd + self.absurd,
            unknown=tuple(sorted(modal.unknown.items())),
            too_fast=self.too_fast,
            hot_still=timeline.hot_still,
        )
