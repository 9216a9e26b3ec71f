"""Reads a growing log file by file, slice by slice. Blocks on the disk: for a thread, not for the event loop."""

import os
from collections import deque
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO, NamedTuple

from watchdog.core.moment import Moment
from watchdog.sources.framer import LIMIT, Framer
from watchdog.sources.log_family import HEAD, NOTHING_YET, TAIL, LogFamily, LogPlace, Part, fingerprint, open_log

SLICE = 64 * 1024
"""bytes that are read at one go, so that the loop has air between"""
HISTORY = 16 * 1024 * 1024
"""bytes before the end that are looked through for recent lines when the watch starts"""
_RECENT = 16 * 1024  # bytes remembered to tell the tail of a place
_ENDS_SEEN = 2  # looks that must find nothing more in a file that was turned away before it is let go
_NEVER = Moment(0.0, 0.0)  # the framer's own times are of no use here


class Slice(NamedTuple):
    """What one look has brought."""

    lines: list[str]
    place: LogPlace | None = None
    """behind these lines; None when no file is open"""
    turned: bool = False
    """a file ended here, `rest` without its line end; the next slice is of another file, or of the same begun anew"""
    rest: str = ""
    idle: bool = False
    """nothing more to read at present"""
    missing: bool = False
    """there is no file"""


class LogFollower:
    """Knows which file is read and how far. `place` resumes; without one, reading begins at `begin`: 'end' (of what is
    there), 'recent' (up to `HISTORY` bytes before it) or 'start'.
    """

    def __init__(self, path: Path, place: LogPlace | None = None, begin: str = "end") -> None:
        self.family = LogFamily(path)
        self.place_lost = False
        """the file that `place` spoke of was not found: lines may be missing"""
        self.restarts = 0
        """times that a file began anew under us (truncated or rewritten)"""
        self.framer = Framer(LIMIT + 256)
        self._parts: deque[Part] = deque()
        self._resume = place
        self._begin = begin
        self._file: BinaryIO | None = None
        self._path = path
        self._identity = (0, 0)
        self._offset = 0
        self._head = b""
        self._recent = b""
        self._looked: tuple[int, int] | None = None  # size and time of change at the last look
        self._ends = 0

    def read(self) -> Slice:
        """The next slice. OSError as the disk gives it; the next call tries again."""
        if self._file is None and not self._open_next():
            return Slice([], idle=True, missing=True)
        assert self._file is not None
        if self._began_anew():
            return self._restart()
        chunk = self._file.read(SLICE)
        if chunk:
            self._ends = 0
            return self._take(chunk)
        return self._at_end()

    def close(self) -> None:
        """Let the file go."""
        if self._file is not None:
            with suppress(OSError):
                self._file.close()
        self._file = None

    # ---------------------------------------------------------------- which file

    def _open_next(self) -> bool:
        if self._resume == NOTHING_YET:
            self._resume, self._begin = None, "start"
        if self._resume is not None:
            parts = self.family.locate(self._resume)
            if parts is None:
                live = self.family.live()
                if live is None:
                    return False  # perhaps it is only not there yet
                self.place_lost = True
                parts = [Part(live, 0)]
            self._parts.extend(parts)
            self._resume = None
            self._begin = "start"
        while self._parts:
            path, offset = self._parts.popleft()
            with suppress(FileNotFoundError):
                self._open(path, offset)
                return True
        live = self.family.live()
        if live is None:
            self._begin = "start"  # what comes later is all new
            return False
        self._open(live, self._first_offset(live))
        self._begin = "start"
        return True

    def _open(self, path: Path, offset: int) -> None:
        file = open_log(path)
        try:
            found = os.fstat(file.fileno())
            self._head = file.read(min(HEAD, offset)) if offset else b""
            recent = min(_RECENT, offset)
            file.seek(offset - recent)
            self._recent = file.read(recent) if recent else b""
        except BaseException:
            file.close()
            raise
        self._file, self._path, self._offset = file, path, offset
        self._identity = (found.st_dev, found.st_ino)
        self._looked = None
        self._ends = 0

    def _first_offset(self, path: Path) -> int:
        """Where a log that was there before us is taken up: always the start of a line."""
        size = path.stat().st_size
        if self._begin == "start" or path.suffix == ".gz":
            return 0
        back = SLICE if self._begin == "end" else HISTORY
        with path.open("rb") as file:
            file.seek(max(0, size - back))
            before = file.read(min(size, back))
        if self._begin == "end":
            end = before.rfind(b"\n") + 1
            return size - len(before) + end if end or len(before) == size else size
        start = before.find(b"\n") + 1 if len(before) < size else 0
        return size - len(before) + start

    # ---------------------------------------------------------------- how far

    def _began_anew(self) -> bool:
        """The open file was truncated or rewritten: what stands before our offset is no longer what we read."""
        assert self._file is not None
        if self._path.suffix == ".gz":
            return False
        found = os.fstat(self._file.fileno())
        looked = (found.st_size, found.st_mtime_ns)
        if looked == self._looked:
            return False
        self._looked = looked
        if found.st_size < self._offset:
            return True
        tail = self._recent[-TAIL:]
        return os.pread(self._file.fileno(), len(tail), self._offset - len(tail)) != tail

    def _restart(self) -> Slice:
        self.restarts += 1
        rest = self.framer.drop()
        found = self.family.locate(self._place()) if self._offset else None
        live = self.family.live() or self._path
        self._parts.extend(part for part in found or [] if part.path not in (live, self._path))  # copied away before
        self._parts.append(Part(live, 0))
        self.close()
        return Slice([], turned=True, rest=rest)

    def _at_end(self) -> Slice:
        place = self._place()
        if not self._turned_away():
            return Slice([], place, idle=True)
        self._ends += 1
        if self._ends < _ENDS_SEEN and not self._parts:
            return Slice([], place, idle=True)  # its writer may still finish a line
        assert self._file is not None
        modified = os.fstat(self._file.fileno()).st_mtime_ns
        if not self._parts:
            self._parts.extend(Part(path, 0) for path in self.family.between(self._path, modified))
        rest = self.framer.drop()
        self.close()
        return Slice([], None, turned=True, rest=rest)

    def _turned_away(self) -> bool:
        """Another file is to be read after this one."""
        if self._parts:
            return True
        live = self.family.live()
        if live is None:
            return os.fstat(self._file.fileno()).st_nlink == 0 if self._file is not None else True
        try:
            found = live.stat()
        except FileNotFoundError:
            return False
        return (found.st_dev, found.st_ino) != self._identity

    def _take(self, chunk: bytes) -> Slice:
        if len(self._head) < HEAD:
            self._head += chunk[: HEAD - len(self._head)]
        self._recent = (self._recent + chunk)[-_RECENT:]
        self._offset += len(chunk)
        lines = [line.text.removeprefix("\ufeff") for line in self.framer.feed(chunk, _NEVER)]
        return Slice(lines, self._place())

    def _place(self) -> LogPlace:
        pending = self.framer.pending
        if self._offset > _RECENT and pending > _RECENT - TAIL:
            pending = 0  # endless rubbish: better resumed in its midst than from a place that cannot be known again
        offset = self._offset - pending
        before = self._recent[: len(self._recent) - pending]
        return LogPlace(
            *self._identity,
            offset,
            fingerprint(self._head[: min(HEAD, offset)]),
            fingerprint(before[-min(TAIL, offset) :] if offset else b""),
        )
