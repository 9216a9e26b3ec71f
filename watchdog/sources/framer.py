"""Bytes from a wire or a file, cut into lines. Bounded whatever comes in; the same lines however the bytes are cut up.

LF ends a line, CR LF ends it once, a lone CR ends it too. Empty lines carry nothing and are left out.
A line longer than the limit is cut, marked with a trailing ``\\…``, and its rest is swallowed up to the next line end.
NUL bytes are left out and counted; a line of nothing else comes as ``\\x00``, so that a flood is not taken for silence.
"""

from typing import NamedTuple

from watchdog.core.moment import Moment
from watchdog.core.traffic import decode

LIMIT = 4096
"""bytes of one line. A machine's own lines stay below 1 kB; common practice, no source."""
CUT = "\\…"
"""Stands behind a line that was cut. No machine says it: a backslash from a machine is followed by ASCII."""
NULS = "\\x00"
"""Stands for a run of NUL bytes without anything else."""
ENDLESS = 1 << 20
"""bytes without a line end after which a fresh line is begun, so that endless rubbish is heard again and again"""
ENDLESS_NULS = 1 << 16
"""NUL bytes without a line end after which the flood is told again"""


class Framed(NamedTuple):
    """One line and the moment of its first byte."""

    at: Moment
    text: str


class Framer:
    """The line that is still growing, and what had to be left out. Holds at most `limit` bytes."""

    def __init__(self, limit: int = LIMIT) -> None:
        self.limit = limit
        self.cut = 0
        """lines that were cut at the limit"""
        self.nuls = 0
        """NUL bytes left out"""
        self.pending = 0
        """bytes taken since the last line end: what has to be read again after a restart"""
        self._kept = bytearray()
        self._began: Moment | None = None
        self._swallowed: int | None = None  # bytes behind the cut; None while the line is whole
        self._bare = True  # no byte but NUL since the last line end
        self._bare_nuls = 0
        self._after_cr = False

    def feed(self, chunk: bytes, at: Moment) -> list[Framed]:
        """The lines that `chunk`, read at `at`, completes. Never raises."""
        if not chunk:
            return []
        if self._after_cr and chunk[0] == 0x0A:  # the second half of a CR LF that fell apart
            chunk = chunk[1:]
        if chunk:
            self._after_cr = chunk[-1] == 0x0D
        else:
            self._after_cr = False
            return []
        if b"\r" in chunk:
            chunk = chunk.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
        pieces = chunk.split(b"\n")
        lines: list[Framed] = []
        last = len(pieces) - 1
        for place, piece in enumerate(pieces):
            if piece:
                self._grow(piece, at, lines)
            if place < last:
                self._end(at, lines)
        return lines

    def drop(self) -> str:
        """Forget the unfinished line, and give what there was of it. Half a number must not be read as a number."""
        text = decode(bytes(self._kept))
        self._clear()
        self._after_cr = False
        return text

    def _grow(self, piece: bytes, at: Moment, lines: list[Framed]) -> None:
        self.pending += len(piece)
        if self._began is None and self._swallowed is None:
            self._began = at
        if 0 in piece:
            whole = len(piece)
            if self._bare:
                self._flood(whole - len(piece.lstrip(b"\0")), at, lines)
            piece = piece.replace(b"\0", b"")
            self.nuls += whole - len(piece)
        if piece:
            self._bare = False
        while piece:
            if self._swallowed is None:
                room = self.limit - len(self._kept)
                self._kept += piece[:room]
                piece = piece[room:]
                if piece:
                    lines.append(Framed(self._began or at, decode(bytes(self._kept)) + CUT))
                    self.cut += 1
                    self._kept.clear()
                    self._began = None
                    self._swallowed = 0
            else:
                rest = ENDLESS - self._swallowed
                self._swallowed += min(len(piece), rest)
                piece = piece[rest:]
                if self._swallowed == ENDLESS:
                    self._swallowed = None
                    self._began = at

    def _flood(self, count: int, at: Moment, lines: list[Framed]) -> None:
        """`count` NUL bytes on a line that has held nothing else so far."""
        self._bare_nuls += count
        while self._bare_nuls >= ENDLESS_NULS:
            self._bare_nuls -= ENDLESS_NULS
            lines.append(Framed(self._began or at, NULS))
            self._began = at

    def _end(self, at: Moment, lines: list[Framed]) -> None:
        if self._kept:
            lines.append(Framed(self._began or at, decode(bytes(self._kept))))
        elif self._bare and self._bare_nuls:
            lines.append(Framed(self._began or at, NULS))
        self._clear()

    def _clear(self) -> None:
        self._kept.clear()
        self._began = None
        self._swallowed = None
        self._bare = True
        self._bare_nuls = 0
        self.pending = 0
