"""A machine's own serial line: kept open, never left unread, never spoken to without permission."""

import asyncio
import errno
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import structlog

from watchdog.clock import Clock
from watchdog.core.traffic import Direction
from watchdog.sources.aside import aside
from watchdog.sources.complaints import Complaints
from watchdog.sources.framer import Framer
from watchdog.sources.hearing import LINK_OPENED, WATCH_STARTED, WATCH_STOPPED, Hear, link_closed
from watchdog.sources.loop_lag import LoopLag
from watchdog.sources.serial_holders import PROCESSES
from watchdog.sources.serial_names import BY_ID, PortNotChosen, find_port
from watchdog.sources.serial_opening import OpenPort, close_port, open_port
from watchdog.sources.wires import DescriptorWire, ThreadWire, Wire

LONGEST_QUERY = 95
"""characters of a line that is sent; the commonest controllers cut a longer one (read in their source)"""


@dataclass(frozen=True, slots=True)
class SerialOptions:
    """Where the machine is, and how patiently it is looked for."""

    port: str | None = None
    """a device file, or a URL that pyserial knows (socket://host:port, rfc2217://host:port); None: find it"""
    baud: int = 115_200
    exclusive: bool = True
    """keep out of a port that another program has open, and others out of ours"""
    resets_on_open: bool | None = None
    """whether this board restarts when its port is opened for the first time; None: not known. Only words depend on it"""
    back_off: float = 1.0
    """s until a lost port is tried again; doubled each time. A missing device is looked for at this pace"""
    back_off_most: float = 30.0
    """s"""
    names: Path = BY_ID
    """where the stable names are"""
    processes: Path = PROCESSES
    """where other programs' open files are seen"""


class SerialSource:
    """Follows one serial port for ever. Everything happens on the event loop that `run` runs on.

    `permitted` must say yes to every line that is sent: the closed list of harmless queries. `say` takes sentences for the
    operator. One `lag` may be shared by all sources and run by somebody else; without one the source runs its own.
    """

    def __init__(
        self,
        options: SerialOptions,
        clock: Clock,
        hear: Hear,
        *,
        permitted: Callable[[str], bool],
        say: Callable[[str], None] | None = None,
        lag: LoopLag | None = None,
    ) -> None:
        self.options = options
        self.port: str | None = options.port
        """what is opened; a port that was found keeps its name, so that another device is never taken for it"""
        self.bytes_read = 0
        self.lines_may_have_risen: bool | None = None
        """whether the last open may have restarted a board that is wired so; None before the first"""
        self.refused = 0
        """lines that were not sent because they are not permitted"""
        self.framer = Framer()
        self._clock = clock
        self._hear = hear
        self._permitted = permitted
        self._say = say or structlog.get_logger("sources").warning
        self._complaints = Complaints(self._say)
        self._lag = lag
        self._own_lag = LoopLag() if lag is None else None
        self._wire: Wire | None = None
        self._ended: asyncio.Future[str] | None = None
        self._told = False  # that the link is down

    @property
    def is_open(self) -> bool:
        """The port is open and read."""
        return self._wire is not None

    @property
    def trouble(self) -> str | None:
        """Why the port is not open, as a sentence; None while it is."""
        return None if self.is_open else self._complaints.trouble

    @property
    def longest_unread(self) -> float:
        """s: no byte that had arrived waited longer than this until it was read (upper bound, 0.1 s at the least)."""
        return (self._lag or self._own_lag or LoopLag()).longest

    async def run(self) -> None:
        """Open, read, open again; for ever. An error of `hear` ends it."""
        self._remark(WATCH_STARTED)
        try:
            async with asyncio.TaskGroup() as rooms:
                if self._own_lag is not None:
                    rooms.create_task(self._own_lag.run(), name="loop lag")
                rooms.create_task(self._keep_open(), name="serial port")
        finally:
            self._remark(WATCH_STOPPED)

    def send(self, text: str) -> bool:
        """Send one line if it is permitted, without waiting. False: not open, no room just now, or not permitted."""
        plain = text.isascii() and text.isprintable() and 0 < len(text) <= LONGEST_QUERY
        if not plain or not self._permitted(text):
            self.refused += 1
            self._say(f"not sent, since it is no permitted query: {text[:40]!r}")
            return False
        if self._wire is None or not self._wire.write(text.encode("ascii") + b"\n"):
            return False
        self._hear(self._clock.now(), Direction.SENT, text)
        return True

    async def _keep_open(self) -> None:
        pause = self.options.back_off
        while True:
            try:
                opened = await self._open()
            except (PortNotChosen, OSError) as fault:
                why = (fault.strerror if isinstance(fault, OSError) else None) or str(fault)
                self._complaints.about(why, self._clock.now().elapsed)
                if not self._told:
                    self._remark(link_closed(why))
                    self._told = True
                if isinstance(fault, PortNotChosen) or fault.errno == errno.ENOENT:
                    await self._clock.sleep(self.options.back_off)  # looking is cheap, and a plug is soon put back
                    continue
            else:
                read_before = self.bytes_read
                await self._follow(opened)
                if self.bytes_read > read_before:
                    pause = self.options.back_off
            await self._clock.sleep(pause)
            pause = min(2 * pause, self.options.back_off_most)

    async def _open(self) -> OpenPort:
        if self.port is None:
            self.port = str(find_port(self.options.names))
        opening = aside(
            partial(
                open_port,
                self.port,
                self.options.baud,
                exclusive=self.options.exclusive,
                processes=self.options.processes,
            ),
        )
        try:
            return await asyncio.shield(opening)
        except asyncio.CancelledError:
            opening.add_done_callback(_close_late)
            raise

    async def _follow(self, opened: OpenPort) -> None:
        self._warn(opened)
        loop = asyncio.get_running_loop()
        self._ended = loop.create_future()
        wire: Wire
        if opened.descriptor is not None:
            wire = DescriptorWire(opened.descriptor, self._take, self._lost)
        else:
            wire = ThreadWire(opened.port, self._take, self._lost)
        why = ""
        try:
            self._remark(LINK_OPENED)
            self._told = False
            wire.start()
            self._wire = wire
            why = await self._ended
            self._complaints.about(f"{self.port} lost: {why}", self._clock.now().elapsed)
        finally:
            wire.stop()
            self._wire = None
            self.framer.drop()
            closing = aside(partial(close_port, opened))
            self._remark(link_closed(why))
            self._told = True
            await asyncio.shield(closing)

    def _take(self, chunk: bytes) -> None:
        at = self._clock.now()
        if self._complaints.count:
            self._complaints.over(at.elapsed)
        self.bytes_read += len(chunk)
        try:
            for line in self.framer.feed(chunk, at):
                self._hear(line.at, Direction.RECEIVED, line.text)
        except Exception as fault:  # carried to run(): the loop would only log it
            if self._ended is not None and not self._ended.done():
                self._ended.set_exception(fault)

    def _lost(self, why: str) -> None:
        if self._ended is not None and not self._ended.done():
            self._ended.set_result(why)

    def _remark(self, remark: str) -> None:
        self._hear(self._clock.now(), Direction.REMARK, remark)

    def _warn(self, opened: OpenPort) -> None:
        self.lines_may_have_risen = opened.lines_may_have_risen
        if not opened.lines_may_have_risen or self.options.resets_on_open is False:
            return
        does = "This board restarts then" if self.options.resets_on_open else "A board that is wired so restarts then"
        self._say(f"{self.port}: nobody had kept this port open, so its DTR line may just have risen. {does}.")


def _close_late(opening: asyncio.Future[OpenPort]) -> None:
    if not opening.cancelled() and opening.exception() is None:
        close_port(opening.result())
