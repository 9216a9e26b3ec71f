"""The files of a recorder: named by their first line's time, turned when full, the oldest removed."""

import os
import re
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from watchdog.core.traffic import TrafficLine, write_line

MAY_STEP_BACK = 1.0
"""s: the format's promise. Where the clock was set back further, the next file begins"""


def open_to_append(path: Path) -> int:
    """A descriptor to write behind what `path` holds."""
    return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND | os.O_CLOEXEC, 0o640)


class RecordingFiles:
    """`<machine>-2026-03-02T091407Z.traffic` and its like in one folder. Blocks: for a thread only."""

    def __init__(
        self,
        folder: Path,
        machine: str,
        file_bytes: int,
        files_kept: int,
        opener: Callable[[Path], int] = open_to_append,
    ) -> None:
        self._folder = folder
        self._machine = machine
        self._file_bytes = file_bytes
        self._files_kept = max(1, files_kept)
        self._opener = opener
        self._ours = re.compile(re.escape(machine) + r"-\d{4}-\d\d-\d\dT\d{6}Z\.traffic")
        self._path: Path | None = None
        self._descriptor: int | None = None
        self._size = 0
        self._newest = 0.0

    def append(self, lines: Sequence[TrafficLine]) -> int:
        """Write the first of `lines`, as many as go into one file; how many. OSError: none of them is in the file."""
        if self._must_turn(lines[0].stamp):
            self.close()
            self._path = self._fresh(lines[0].stamp)
            self._newest = lines[0].stamp
        block = bytearray()
        count, newest = 0, self._newest
        for line in lines:
            if count and (self._size + len(block) >= self._file_bytes or line.stamp < newest - MAY_STEP_BACK):
                break
            block += write_line(line).encode("utf-8", "backslashreplace") + b"\n"
            newest = max(newest, line.stamp)
            count += 1
        self._put(bytes(block))
        self._newest = newest
        return count

    def close(self) -> None:
        """Let the file go."""
        if self._descriptor is not None:
            with suppress(OSError):
                os.close(self._descriptor)
        self._descriptor = None
        self._path = None
        self._size = 0

    def _must_turn(self, stamp: float) -> bool:
        if self._path is None or self._size >= self._file_bytes or stamp < self._newest - MAY_STEP_BACK:
            return True
        return self._descriptor is not None and os.fstat(self._descriptor).st_nlink == 0  # somebody has removed it

    def _fresh(self, stamp: float) -> Path:
        self._folder.mkdir(parents=True, exist_ok=True)
        begun = datetime.fromtimestamp(stamp, UTC)
        while (path := self._folder / f"{self._machine}-{begun:%Y-%m-%dT%H%M%SZ}.traffic").exists():
            begun += timedelta(seconds=1)
        return path

    def _put(self, block: bytes) -> None:
        assert self._path is not None
        opened = self._descriptor is None
        if self._descriptor is None:
            self._descriptor = self._opener(self._path)
            self._size = os.fstat(self._descriptor).st_size
        done = 0
        try:
            while done < len(block):
                done += os.write(self._descriptor, block[done:])
        except OSError:
            with suppress(OSError):  # no half line stays, so that the rest can be written once more
                os.ftruncate(self._descriptor, self._size)
            with suppress(OSError):
                os.close(self._descriptor)
            self._descriptor = None  # opened again at the next attempt: the disk may be another one by then
            raise
        self._size += len(block)
        if opened:
            self._remove_oldest()

    def _remove_oldest(self) -> None:
        with suppress(OSError):
            kept = [path for path in self._folder.iterdir() if self._ours.fullmatch(path.name) and path != self._path]
            kept.sort(key=lambda path: (path.stat().st_mtime, path.name))
            for path in kept[: max(0, len(kept) - self._files_kept + 1)]:
                path.unlink()
