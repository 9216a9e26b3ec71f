"""The machine behind a real pseudo-terminal, in real time or faster.

Whoever opens the terminal sees a serial port. Losing the reader never blocks the machine, unless it is asked to behave like
the controllers that hang on a full output buffer.
"""

import asyncio
import errno
import os
import termios
import tty
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Literal

from watchdog.clock import Clock
from watchdog.simulator.machine import SimulatedMachine
from watchdog.simulator.script import Director, Event

QUICKEST, SLOWEST = 0.005, 0.1
"""real s between two looks at the machine"""
UNOPENED = 0.05
"""real s between two looks whether somebody has opened the terminal"""
HOLDS = 65_536
"""bytes held for a slow reader; more are dropped, oldest first"""

Unread = Literal["drop", "hold", "hang"]


class PtyMachine:
    """A machine on a pseudo-terminal. Make it, start `run()` in a task group, open `path`.

    `link` becomes a symbolic link to the terminal, so that it has a stable name. `unread` tells what becomes of output that
    the reader does not fetch: 'drop' loses it, 'hold' keeps it (to a bound), 'hang' stops the controller's main loop until
    it is fetched, heater outputs as they were. With `resets_on_open` the board is reset by an opening that raises the modem
    lines: the first, and every one after a close that had let them drop (HUPCL). Nobody having opened it loses output always.
    """

    def __init__(
        self,
        machine: SimulatedMachine,
        *,
        clock: Clock | None = None,
        script: str | tuple[Event, ...] = (),
        link: Path | None = None,
        unread: Unread = "drop",
        resets_on_open: bool = False,
        tell: Callable[[float, str], None] = lambda at, what: None,
    ) -> None:
        self.machine = machine
        self.director = Director(machine, script)
        self.clock = clock or Clock()
        self.link = link
        self.unread: Unread = unread
        self.resets_on_open = resets_on_open
        self.tell = tell
        self.path = ""
        """the terminal's name (the link's, when there is one); '' while the cable is out"""
        self._master: int | None = None
        self._heard = asyncio.Event()
        self._open = False
        self._lines_high = False  # the modem lines, as the last opener left them
        self._pending = b""
        self._hung = False
        self._told = 0
        self._began: float | None = None
        self._plug()

    # ------------------------------------------------------------ living

    async def run(self) -> None:
        """Live until cancelled."""
        try:
            while True:
                self.catch_up()
                await self._nap()
        finally:
            self.close()

    def catch_up(self) -> None:
        """Bring the machine to this moment, and the wire with it."""
        now = self._now()
        self._read()
        self.director.advance(now)
        if self.machine.cable and self._master is None:
            self._plug()
        elif not self.machine.cable and self._master is not None:
            self._unplug()
        self._write(self.machine.take())
        happened = self.director.happened
        for at, what in happened:
            self.tell(at, what)
        happened.clear()

    def do(self, deed: str, words: str = "") -> None:
        """Let something happen now: a deed of the script."""
        self.catch_up()
        self.director.do(deed, words)
        self.catch_up()

    def close(self) -> None:
        """Let go of the terminal and its link."""
        self._unplug()

    def _now(self) -> float:
        elapsed = self.clock.now().elapsed
        if self._began is None:
            self._began = elapsed
        return self.director.origin + elapsed - self._began

    async def _nap(self) -> None:
        """Sleep until the machine has something to do, or the reader says something."""
        ahead = (self.machine.next_event() - self.machine.now) / self.clock.rate
        if not self._open:
            await asyncio.sleep(min(UNOPENED, max(QUICKEST, ahead)))
            return
        with suppress(TimeoutError):
            async with asyncio.timeout(min(SLOWEST, max(QUICKEST, ahead))):
                await self._heard.wait()
        self._heard.clear()

    # ------------------------------------------------------------ the terminal

    def _plug(self) -> None:
        master, slave = os.openpty()
        tty.setraw(slave)
        attributes = termios.tcgetattr(slave)
        attributes[2] |= termios.HUPCL  # as a serial port has it: the modem lines drop at the last close
        termios.tcsetattr(slave, termios.TCSANOW, attributes)
        name = os.ttyname(slave)
        os.close(slave)
        os.set_blocking(master, False)
        self._master, self._open, self._lines_high = master, False, False
        self.path = name
        if self.link is not None:
            self.link.parent.mkdir(parents=True, exist_ok=True)
            beside = self.link.with_name(self.link.name + ".new")
            beside.unlink(missing_ok=True)
            beside.symlink_to(name)
            beside.replace(self.link)
            self.path = str(self.link)

    def _unplug(self) -> None:
        if self._master is None:
            return
        self._lost()
        os.close(self._master)
        self._master = None
        self._pending = b""
        if self.link is not None and self.link.is_symlink():
            self.link.unlink()
        self.path = ""

    def _read(self) -> None:
        if self._master is None:
            return
        while True:
            try:
                heard = os.read(self._master, 4096)
            except BlockingIOError:
                self._opened()
                return
            except OSError as lost:
                if lost.errno != errno.EIO:
                    raise
                self._lost()
                return
            self._opened()
            self.director.advance(self._now())
            self.machine.receive(heard)

    def _opened(self) -> None:
        """Somebody has the terminal open."""
        if self._open or self._master is None:
            return
        self._open = True
        asyncio.get_running_loop().add_reader(self._master, self._heard.set)
        if self.resets_on_open and not self._lines_high:
            self.director.advance(self._now())
            self.machine.opened()
        self._lines_high = True

    def _lost(self) -> None:
        """Nobody has it open."""
        if not self._open or self._master is None:
            return
        self._open = False
        asyncio.get_running_loop().remove_reader(self._master)
        self._lines_high = not termios.tcgetattr(self._master)[2] & termios.HUPCL
        self._pending = b""
        self._hang(False)

    def _write(self, said: bytes) -> None:
        if self._master is None or not self._open:
            return
        self._pending += said
        while self._pending:
            try:
                written = os.write(self._master, self._pending)
            except BlockingIOError:
                written = 0
            except OSError as lost:
                if lost.errno != errno.EIO:
                    raise
                self._lost()
                return
            if written == 0:
                break
            self._pending = self._pending[written:]
        if self.unread == "drop":
            self._pending = b""
        self._pending = self._pending[-HOLDS:]
        self._hang(self.unread == "hang" and bool(self._pending))

    def _hang(self, hung: bool) -> None:
        """A controller that waits for room in its output buffer does nothing else."""
        if hung != self._hung:
            self._hung = hung
            if hung:
                self.machine.controller.frozen = True
            elif self.machine.controller.frozen:
                self.machine.controller.now = self.machine.now
                self.machine.controller.thaw()
