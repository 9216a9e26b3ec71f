"""Follows a traffic log that another program writes. Plain polling: a rotation is seen by inode, size and content."""

import asyncio
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import structlog

from watchdog.clock import Clock
from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction, TrafficLine
from watchdog.sources.complaints import Complaints
from watchdog.sources.hearing import LINK_OPENED, WATCH_STARTED, WATCH_STOPPED, Hear, link_closed
from watchdog.sources.log_family import NOTHING_YET, LogPlace
from watchdog.sources.log_follower import LogFollower, Slice
from watchdog.sources.log_layout import Layout, line_reader
from watchdog.sources.recording import MAY_STEP_BACK


@dataclass(frozen=True, slots=True)
class LogOptions:
    """Which log, and how it is read."""

    path: Path
    """a name with `*` is a series of files, the last by name being written: our own recordings, for instance"""
    layout: Layout | None = None
    """None: our own recording format"""
    poll: float = 0.25
    """s between two looks at a log that has nothing new"""
    history: float = 0.0
    """s: of what is already in the log when it is followed for the first time, so much is heard. 0: begin at its end"""


class LogSource:
    """Follows one log for ever. Read-only: nothing is ever sent.

    A line's `stamp` is the log's own. Its `elapsed` is the time of hearing; for what had been written before we came to it
    (a restart, `history`) it is dated back by the line's age, but never before `not_before` nor before the line ahead of it.
    """

    def __init__(
        self,
        options: LogOptions,
        clock: Clock,
        hear: Hear,
        resume: LogPlace | None = None,
        *,
        not_before: float = 0.0,
        say: Callable[[str], None] | None = None,
    ) -> None:
        self.options = options
        self.place: LogPlace | None = resume
        """behind the last line that was heard: to be stored, and given back as `resume`"""
        self.caught_up = asyncio.Event()
        """everything that was written before the start has been heard (or there is no log yet)"""
        self.unparsed = 0
        """lines that do not parse"""
        self.stepped_back = 0
        """times that the log's stamps step back by more than a second"""
        self._clock = clock
        self._hear = hear
        self._read = line_reader(options.layout)
        self._say = say or structlog.get_logger("sources").warning
        self._complaints = Complaints(self._say)
        self._follower = LogFollower(options.path, resume, "recent" if options.history > 0 else "end")
        self._skip_before = clock.now().stamp - options.history if resume is None and options.history > 0 else None
        self._open: bool | None = None
        self._elapsed = not_before
        self._last: float | None = None  # stamp of the line before
        self._rest = ""  # of a file that ended without a line end
        self._place_said = False

    @property
    def is_open(self) -> bool:
        """There is a log, and it is followed."""
        return self._open is True

    @property
    def trouble(self) -> str | None:
        """Why nothing is read, as a sentence; None while the log is followed."""
        return self._complaints.trouble

    async def run(self) -> None:
        """Follow, for ever. An error of `hear` ends it."""
        self._remark(WATCH_STARTED)
        try:
            await self._keep_looking()
        finally:
            if self._open:
                self._remark(link_closed(""))
            self._remark(WATCH_STOPPED)

    async def _keep_looking(self) -> None:
        loop = asyncio.get_running_loop()
        thread = ThreadPoolExecutor(1, thread_name_prefix=f"log {self.options.path.name}")
        try:
            while True:
                try:
                    found = await loop.run_in_executor(thread, self._follower.read)
                except (OSError, EOFError) as fault:
                    self._follower.close()
                    self._gone(f"{self.options.path} cannot be read: {getattr(fault, 'strerror', None) or fault}")
                    self.caught_up.set()
                    await self._clock.sleep(max(1.0, self.options.poll))
                    continue
                self._tell(found)
                if found.idle:
                    self.caught_up.set()
                    await self._clock.sleep(self.options.poll)
        finally:
            thread.submit(
                self._follower.close
            )  # after a read that may still be under way, also when the loop has ended
            thread.shutdown(wait=False)

    def _tell(self, found: Slice) -> None:
        if found.missing:
            self._gone(f"{self.options.path} is not there")
            self.place = self.place or NOTHING_YET
            return
        if not self._open:
            self._complaints.over(self._clock.now().elapsed)
            self._open = True
            self._remark(LINK_OPENED)
        if self._follower.place_lost and not self._place_said:
            self._place_said = True
            self._say(f"{self.options.path}: the place where reading had stopped is gone; lines may be missing")
        for text in found.lines:
            if self._rest:
                text = self._join(text)
            self._line(text)
        if found.turned:
            self._rest += found.rest  # a file may hold nothing but the middle of a line
        if found.place is not None and (found.place.offset or self.place is None):
            self.place = (
                found.place
            )  # a file of which nothing is read yet could not be known again: keep the one before

    def _join(self, first: str) -> str:
        """The first line of a file, with the end of the file before it where a rotation has cut a line in two."""
        rest, self._rest = self._rest, ""
        whole = rest + first
        if self._parse(first) is None and self._parse(whole) is not None:
            return whole
        self._line(rest)
        return first

    def _line(self, text: str) -> None:
        line = self._parse(text)
        if line is None:
            self.unparsed += 1
            return
        stamp, direction, said = line
        if self._last is not None and stamp < self._last - MAY_STEP_BACK:
            self.stepped_back += 1
        self._last = stamp
        if self._skip_before is not None:
            if stamp < self._skip_before:
                return
            self._skip_before = None
        self._hear(self._moment(stamp), direction, said)

    def _parse(self, text: str) -> TrafficLine | None:
        near = self._last if self._last is not None and not self.caught_up.is_set() else self._clock.now().stamp
        return self._read(text, near)

    def _moment(self, stamp: float) -> Moment:
        now = self._clock.now()
        age = 0.0 if self.caught_up.is_set() else max(0.0, now.stamp - stamp)
        self._elapsed = max(self._elapsed, now.elapsed - age)
        return Moment(self._elapsed, stamp)

    def _remark(self, remark: str) -> None:
        now = self._clock.now()
        if self.caught_up.is_set():
            self._elapsed = max(self._elapsed, now.elapsed)
            self._hear(now, Direction.REMARK, remark)
        else:  # what is still to be caught up with is older
            self._hear(Moment(self._elapsed, now.stamp), Direction.REMARK, remark)

    def _gone(self, why: str) -> None:
        self._complaints.about(why, self._clock.now().elapsed)
        if self._open is not False:
            self._open = False
            self._remark(link_closed(why))
