"""Machines behind the network: raw TCP, and Telnet port control (RFC 2217), each with a real server."""

import asyncio
import contextlib
import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractAsyncContextManager
from typing import Any, cast

import pytest
import serial
import serial.rfc2217

from watchdog.clock import Clock
from watchdog.core.traffic import Direction
from watchdog.sources.serial_port import SerialOptions, SerialSource
from watchdog.sources.wires import BACKLOG, ThreadWire

Running = Callable[..., AbstractAsyncContextManager[None]]


def source_at(url: str, ear: Any) -> SerialSource:
    return SerialSource(
        SerialOptions(port=url, back_off=0.02, back_off_most=0.1),
        Clock(),
        ear,
        permitted=lambda text: text == "M105",
        say=lambda sentence: None,
    )


async def test_a_machine_behind_raw_tcp_is_followed_and_found_again(ear: Any, running: Running) -> None:
    met: list[asyncio.StreamWriter] = []
    asked: list[bytes] = []

    async def machine(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        met.append(writer)
        while line := await reader.readline():
            asked.append(line)
            writer.write(b"ok T:20.1 /0.0\r\n")

    server = await asyncio.start_server(machine, "127.0.0.1", 0)
    port = server.sockets[0].getsockname()[1]
    source = source_at(f"socket://127.0.0.1:{port}", ear)
    async with running(source.run()):
        for turn in (1, 2):
            await ear.until(lambda turn=turn: source.is_open and len(met) == turn)
            assert source.send("M105")
            await ear.until(lambda turn=turn: len(ear.received) == turn)
            met[-1].close()
            await ear.until(lambda turn=turn: sum("link closed" in remark for remark in ear.remarks) == turn)
    server.close()
    assert ear.received == ["ok T:20.1 /0.0"] * 2
    assert asked == [b"M105\n"] * 2


async def test_a_network_port_that_nobody_serves_is_tried_again(ear: Any, running: Running) -> None:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    source = source_at(f"socket://127.0.0.1:{port}", ear)
    async with running(source.run()):
        await ear.until(lambda: source._complaints.count >= 3)
        assert "cannot be opened" in str(source.trouble)
    assert len([remark for remark in ear.remarks if remark.startswith("link closed")]) == 1, "one loss, told once"


@pytest.fixture
def telnet() -> Iterator[Any]:
    """A port server as RFC 2217 has it, in front of pyserial's own loop: what is sent to the machine comes back."""
    server = _PortServer()
    yield server
    server.close()


class _PortServer:
    def __init__(self) -> None:
        self.listening = socket.create_server(("127.0.0.1", 0))
        self.port = self.listening.getsockname()[1]
        self.machine: Any = serial.serial_for_url("loop://", timeout=0.02)
        self.connection: socket.socket | None = None
        self.lock = threading.Lock()
        self.ended = threading.Event()
        self.threads = [threading.Thread(target=work, daemon=True) for work in (self.serve, self.from_machine)]
        self.manager: Any = None
        for thread in self.threads:
            thread.start()

    def write(self, sent: bytes) -> None:  # what the port manager answers with
        with self.lock, contextlib.suppress(OSError):
            if self.connection is not None:
                self.connection.sendall(sent)

    def serve(self) -> None:
        while not self.ended.is_set():
            try:
                self.connection, _ = self.listening.accept()
            except OSError:
                return
            self.manager = serial.rfc2217.PortManager(self.machine, cast(Any, self))
            with contextlib.suppress(OSError):
                while got := self.connection.recv(1024):
                    self.machine.write(b"".join(self.manager.filter(got)))
            self.manager = None
            self.connection.close()

    def from_machine(self) -> None:
        while not self.ended.is_set():
            said = self.machine.read(256)
            if said and self.manager is not None:
                self.write(b"".join(self.manager.escape(said)))

    def hang_up(self) -> None:
        if self.connection is not None:
            self.connection.shutdown(socket.SHUT_RDWR)

    def close(self) -> None:
        self.ended.set()
        self.listening.shutdown(socket.SHUT_RDWR)
        self.listening.close()
        with contextlib.suppress(OSError):
            self.hang_up()
        for thread in self.threads:
            thread.join(5)
        self.machine.close()


@pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")
async def test_a_machine_behind_telnet_port_control_is_followed_and_found_again(
    telnet: Any, ear: Any, running: Running
) -> None:
    source = source_at(f"rfc2217://127.0.0.1:{telnet.port}", ear)
    async with running(source.run()):
        for turn in (1, 2):
            await ear.until(lambda: source.is_open)
            assert telnet.machine.dtr is True
            telnet.machine.write(b"T:20.1\xff\n")  # 255 is Telnet's own escape
            await ear.until(lambda turn=turn: len(ear.received) == 2 * turn - 1)
            assert source.send("M105")
            await ear.until(lambda turn=turn: len(ear.received) == 2 * turn)
            telnet.hang_up()
            await ear.until(lambda turn=turn: sum("link closed" in remark for remark in ear.remarks) == turn)
    assert ear.received == ["T:20.1\\xff", "M105"] * 2
    assert ear.of(Direction.SENT) == ["M105"] * 2


async def test_a_reading_thread_keeps_a_bounded_backlog(ear: Any) -> None:
    """While the loop is held up the thread goes on reading, and drops the oldest rather than grow."""
    taken: list[bytes] = []

    class Spout:
        timeout = 0.0
        in_waiting = 4096
        left = 3 * BACKLOG
        dry = threading.Event()

        def read(self, size: int) -> bytes:
            if self.left <= 0:
                self.dry.set()
                self.dry.wait()
                raise OSError("dry")
            self.left -= size
            return b"x" * size

    spout = Spout()
    lost: list[str] = []
    wire = ThreadWire(spout, taken.append, lost.append)
    wire.start()
    spout.dry.wait(30)  # holds the loop up meanwhile
    await ear.until(lambda: bool(lost))
    assert sum(map(len, taken)) == BACKLOG
    assert wire.overflowed == 2 * BACKLOG
    assert lost == ["dry"]
    wire.stop()
