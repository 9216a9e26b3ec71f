"""Two ways to empty an open port into the event loop: by its descriptor, or by a thread where there is none."""

import asyncio
import os
import threading
from collections.abc import Callable
from contextlib import suppress
from typing import Any, Protocol

CHUNK = 64 * 1024
"""bytes taken at one go"""
BACKLOG = 1 << 20
"""bytes that a reading thread keeps while the loop is held up; the oldest give way"""

Take = Callable[[bytes], None]
Lost = Callable[[str], None]


class Wire(Protocol):
    """An open port on the event loop. `start` begins reading, `stop` ends it at once."""

    def start(self) -> None: ...
    def stop(self) -> None: ...
    def write(self, line: bytes) -> bool:
        """Hand over the whole of `line` without waiting; False, and nothing is sent, when there is no room for it."""
        ...


class DescriptorWire:
    """The loop watches the descriptor. `take` gets bytes, `lost` once the reason why there are no more."""

    def __init__(self, descriptor: int, take: Take, lost: Lost) -> None:
        self._descriptor = descriptor
        self._take = take
        self._lost = lost
        self._loop = asyncio.get_running_loop()
        self._rest = b""  # of a line that the kernel took only in part

    def start(self) -> None:
        """Begin to read."""
        self._loop.add_reader(self._descriptor, self._readable)

    def stop(self) -> None:
        """End it. A lost descriptor stays readable for ever: left in the loop it would spin."""
        self._loop.remove_reader(self._descriptor)
        self._loop.remove_writer(self._descriptor)

    def write(self, line: bytes) -> bool:
        """One write of the whole line."""
        if self._rest:
            return False
        try:
            count = os.write(self._descriptor, line)
        except BlockingIOError:
            return False
        except OSError as fault:
            self._fail(str(fault))
            return False
        if count < len(line):
            if count == 0:
                return False
            self._rest = line[count:]  # half a line would spoil the next one
            self._loop.add_writer(self._descriptor, self._writable)
        return True

    def _readable(self) -> None:
        try:
            chunk = os.read(self._descriptor, CHUNK)
        except (BlockingIOError, InterruptedError):
            return
        except OSError as fault:
            self._fail(fault.strerror or str(fault))
            return
        if chunk:
            self._take(chunk)
        else:
            self._fail("the other end hung up")

    def _writable(self) -> None:
        try:
            self._rest = self._rest[os.write(self._descriptor, self._rest) :]
        except BlockingIOError:
            return
        except OSError as fault:
            self._fail(str(fault))
            return
        if not self._rest:
            self._loop.remove_writer(self._descriptor)

    def _fail(self, why: str) -> None:
        self.stop()
        self._lost(why)


class ThreadWire:
    """A thread reads with pyserial's own read and hands over to the loop."""

    WAIT = 0.2  # s: how soon the thread notices that it shall end

    def __init__(self, port: Any, take: Take, lost: Lost) -> None:
        self._port = port
        self._take = take
        self._lost = lost
        self._loop = asyncio.get_running_loop()
        self._ended = threading.Event()
        self._lock = threading.Lock()
        self._read = bytearray()
        self._to_write = b""
        self._wake = threading.Event()
        self.overflowed = 0
        """bytes thrown away because the loop was held up"""

    def start(self) -> None:
        """Begin to read."""
        self._port.timeout = self.WAIT
        for work in (self._keep_reading, self._keep_writing):
            threading.Thread(target=work, name=f"serial {work.__name__}", daemon=True).start()

    def stop(self) -> None:
        """End it; nothing is handed over any more."""
        self._ended.set()
        self._wake.set()

    def write(self, line: bytes) -> bool:
        """The other thread writes it, since this kind of port may block on writing."""
        with self._lock:
            if self._to_write or self._ended.is_set():
                return False
            self._to_write = line
        self._wake.set()
        return True

    def _keep_reading(self) -> None:
        try:
            while not self._ended.is_set():
                chunk = self._port.read(max(1, min(CHUNK, self._port.in_waiting)))
                if chunk:
                    self._keep(chunk)
        except (OSError, TypeError, AttributeError) as fault:  # the last two: closed under its feet
            self._later(self._hand_over)
            self._later(self._fail, str(fault))

    def _keep(self, chunk: bytes) -> None:
        with self._lock:
            waiting = bool(self._read)
            self._read += chunk
            excess = len(self._read) - BACKLOG
            if excess > 0:
                del self._read[:excess]
                self.overflowed += excess
        if not waiting:
            self._later(self._hand_over)

    def _keep_writing(self) -> None:
        while True:
            self._wake.wait()
            self._wake.clear()
            if self._ended.is_set():
                return
            try:
                self._port.write(self._to_write)
            except (OSError, TypeError, AttributeError) as fault:
                self._later(self._fail, str(fault))
                return
            with self._lock:
                self._to_write = b""

    def _later(self, call: Callable[..., None], *words: str) -> None:
        with suppress(RuntimeError):  # the loop has ended
            self._loop.call_soon_threadsafe(call, *words)

    def _hand_over(self) -> None:
        with self._lock:
            chunk = bytes(self._read)
            self._read.clear()
        if chunk and not self._ended.is_set():
            self._take(chunk)

    def _fail(self, why: str) -> None:
        if not self._ended.is_set():
            self.stop()
            self._lost(why)
