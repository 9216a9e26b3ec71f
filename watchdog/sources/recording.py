"""A finished recording, read under its own clock."""

import gzip
import zlib
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import BinaryIO, cast

from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction
from watchdog.sources.framer import LIMIT, Framer
from watchdog.sources.log_layout import Layout, line_reader

CHUNK = 64 * 1024
MAY_STEP_BACK = 1.0
"""s: smaller steps back are in order (two directions, one clock)"""
BOM = "\ufeff"

_BEFORE = Moment(0.0, 0.0)  # the framer's own times are of no use here


class Recording(Iterator[tuple[Moment, Direction, str]]):
    """The lines of a recording, one after the other; the counts are complete when they have all been taken.

    `elapsed` counts from the first line and never steps back: where the stamps do, it stands still for that line and goes
    on from there. The stamps stay as told.
    """

    def __init__(self, path: Path, layout: Layout | None = None) -> None:
        self.path = path
        self.lines = 0
        self.unparsed = 0
        """lines that do not parse"""
        self.stepped_back = 0
        """times that the stamps step back by more than `MAY_STEP_BACK`"""
        self.seconds = 0.0
        """s from the first line to the last, on the recording's own clock"""
        self.damage: str | None = None
        """why a compressed recording ends early; None when it does not"""
        self._read = line_reader(layout)
        self._file = _open(path)
        self._near = path.stat().st_mtime
        self._lines = self._all()

    def __next__(self) -> tuple[Moment, Direction, str]:
        return next(self._lines)

    def close(self) -> None:
        """Let the file go before the last line."""
        self._lines.close()
        self._file.close()

    def _all(self) -> Generator[tuple[Moment, Direction, str], None, None]:
        stamp_before: float | None = None
        elapsed = base = 0.0
        near = self._near
        with self._file:
            for text in self._texts():
                line = self._read(text, near)
                if line is None:
                    self.unparsed += 1
                    continue
                stamp, direction, said = line
                if stamp_before is None:
                    base = stamp
                elif stamp < stamp_before - MAY_STEP_BACK:
                    self.stepped_back += 1
                    base = stamp - elapsed
                stamp_before = near = stamp
                elapsed = max(elapsed, stamp - base)
                self.lines += 1
                self.seconds = elapsed
                yield Moment(elapsed, stamp), direction, said

    def _texts(self) -> Iterator[str]:
        framer = Framer(LIMIT + 256)  # the time and the direction stand before a line of traffic
        while chunk := self._chunk():
            for _, text in framer.feed(chunk, _BEFORE):
                yield text.removeprefix(BOM)
        for _, text in framer.feed(b"\n", _BEFORE):  # a last line without its end
            yield text.removeprefix(BOM)

    def _chunk(self) -> bytes:
        try:
            return self._file.read(CHUNK)
        except (EOFError, zlib.error, gzip.BadGzipFile) as fault:
            self.damage = f"{self.path}: the compressed file is damaged or cut off: {fault}"
            return b""


def read_recording(path: Path, layout: Layout | None = None) -> Recording:
    """The lines of the recording at `path`, plain or `.gz`, in our own format or in `layout`.

    OSError when it cannot be opened, BadLayout when the layout cannot work. Lines that do not parse are counted.
    """
    return Recording(path, layout)


def _open(path: Path) -> BinaryIO:
    return cast(BinaryIO, gzip.open(path, "rb")) if path.suffix == ".gz" else path.open("rb")
