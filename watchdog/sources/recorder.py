"""Writes what is heard as recordings: on a thread of its own, and never in the way of the reading."""

import queue
import re
import threading
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction, TrafficLine
from watchdog.sources.complaints import Complaints
from watchdog.sources.recording_files import RecordingFiles, open_to_append

GATHER = 0.5
"""s for which lines are gathered before they go to the operating system; also the pace of retries on a failed disk"""
BATCH = 5000
"""lines that are written at one go at the most"""
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")


@dataclass(frozen=True, slots=True)
class RecorderOptions:
    """How much is kept."""

    file_bytes: int = 16 * 1024 * 1024
    """a file that has grown to this is followed by the next: some days of a machine that is asked once a second"""
    files_kept: int = 14
    """the oldest go first"""
    backlog: int = 20_000
    """lines that wait while the disk does not answer; further ones are dropped and counted"""


class Recorder:
    """Records one machine. `hear` may be called from the event loop: it never waits.

    When the disk fails, what was taken is tried again until it is written, and further lines wait up to `backlog`; then they
    are dropped and counted. `say` gets a sentence about it (rationed; called from the thread that notices). Start it
    before the source and stop it after, so that it records the source's first and last remark.
    """

    def __init__(
        self,
        folder: Path,
        machine: str,
        options: RecorderOptions | None = None,
        *,
        say: Callable[[str], None] = lambda sentence: None,
        opener: Callable[[Path], int] = open_to_append,
    ) -> None:
        if not _NAME.fullmatch(machine):
            raise ValueError(
                f"machine name {machine!r} cannot begin a file name: use letters, digits, '.', '_' and '-'"
            )
        self.dropped = 0
        """lines that were not recorded"""
        self.written = 0
        """lines that the operating system has taken"""
        options = options or RecorderOptions()
        self._machine = machine
        self._backlog = options.backlog
        self._files = RecordingFiles(folder, machine, options.file_bytes, options.files_kept, opener)
        self._full = Complaints(say)
        self._disk = Complaints(say)
        self._queue: queue.Queue[tuple[Moment, Direction, str] | None] = queue.Queue(options.backlog)
        self._ending = threading.Event()
        self._thread = threading.Thread(target=self._work, name=f"recorder {machine}", daemon=True)

    @property
    def trouble(self) -> str | None:
        """What keeps it from recording, as a sentence; None when nothing does."""
        return self._disk.trouble or self._full.trouble

    def start(self) -> None:
        """Begin. Nothing is done to the disk before the first line."""
        self._thread.start()

    def hear(self, at: Moment, direction: Direction, text: str) -> None:
        """Record one line."""
        try:
            self._queue.put_nowait((at, direction, text))
        except queue.Full:
            self.dropped += 1
            self._full.about(f"{self._machine}: the disk does not keep up, lines are not recorded", at.elapsed)
        else:
            if self._full.count and self._queue.qsize() < self._backlog / 2:
                self._full.over(at.elapsed)

    def stop(self, patience: float = 2.0) -> bool:
        """Write what waits, and end. Waits up to `patience` s for the disk; False when it does not answer."""
        self._ending.set()
        with suppress(queue.Full):  # then the thread is awake anyway
            self._queue.put_nowait(None)
        self._thread.join(patience)
        return not self._thread.is_alive()

    # ---------------------------------------------------------------- on the thread

    def _work(self) -> None:
        while not (self._ending.is_set() and self._queue.empty()):
            batch = self._take()
            while batch:
                try:
                    count = self._files.append(
                        [TrafficLine(at.stamp, direction, text) for at, direction, text in batch]
                    )
                except OSError as fault:
                    self._disk.about(
                        f"{self._machine}: cannot be recorded: {fault.strerror or fault}", batch[-1][0].elapsed
                    )
                    if self._ending.wait(GATHER):
                        self.dropped += len(batch) + self._queue.qsize()
                        return
                    continue
                self.written += count
                self._disk.over(batch[count - 1][0].elapsed)
                batch = batch[count:]
        self._files.close()

    def _take(self) -> list[tuple[Moment, Direction, str]]:
        """Wait for a line, and for those that follow shortly."""
        batch = [self._queue.get()]
        if self._queue.qsize() < self._backlog / 2:
            self._ending.wait(GATHER)
        with suppress(queue.Empty):
            while len(batch) < BATCH:
                batch.append(self._queue.get_nowait())
        return [heard for heard in batch if heard is not None]
