"""The machine on a real pseudo-terminal, read through pyserial and through plain descriptors."""

import asyncio
import os
import termios
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import pytest
import serial

from watchdog.clock import Clock
from watchdog.simulator.laboratory import sample_options
from watchdog.simulator.machine import SimulatedMachine
from watchdog.simulator.pty_host import PtyMachine


@asynccontextmanager
async def living(**more: Any) -> AsyncIterator[PtyMachine]:
    """A machine that lives, at sixty times real time, while the test runs."""
    machine = SimulatedMachine(sample_options(), seed=2)
    more.setdefault("clock", Clock(60.0))
    async with asyncio.TaskGroup() as group:
        pty = PtyMachine(machine, **more)
        task = group.create_task(pty.run(), name="machine")
        try:
            yield pty
        finally:
            task.cancel()


async def until(happened: Callable[[], bool]) -> None:
    """Wait for it; a test that waits in vain is ended by its time limit."""
    async with asyncio.timeout(20):
        while not happened():  # noqa: ASYNC110 - what is waited for happens in the kernel or in another thread
            await asyncio.sleep(0.005)


def opened(path: str) -> int:
    return os.open(path, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)


def fetched(port: int) -> bytes:
    try:
        return os.read(port, 65536)
    except BlockingIOError:
        return b""


async def test_pyserial_talks_to_it_like_to_a_port(tmp_path: Path) -> None:
    link = tmp_path / "by-id" / "usb-doorway-1"

    def talk() -> list[bytes]:
        with serial.Serial(str(link), 115200, timeout=5) as port:
            answers = []
            for question in (b"M105\n", b"M27\n", b"M115\n"):
                port.write(question)
                answers.append(port.read_until(b"ok" if question != b"M105\n" else b"\n"))
            return answers

    async with living(link=link) as pty:
        assert pty.path == str(link)
        await until(lambda: pty.machine.now > 5)
        temperatures, progress, firmware = await asyncio.to_thread(talk)
    assert temperatures.startswith(b"ok T:2")
    assert progress.startswith(b"Not SD printing\n")
    assert b"Cap:AUTOREPORT_TEMP:1\n" in firmware
    assert not link.is_symlink()


async def test_no_echo_and_no_carriage_returns_are_added() -> None:
    """A fresh terminal echoes and translates; every line would come back as if it had been sent."""
    async with living() as pty:
        port = opened(pty.path)
        try:
            await until(lambda: pty.machine.now > 5)
            fetched(port)
            os.write(port, b"M105\n")
            heard = b""

            def all_heard() -> bool:
                nonlocal heard
                heard += fetched(port)
                return heard.endswith(b"\n")

            await until(all_heard)
        finally:
            os.close(port)
    assert heard.count(b"\n") == 1
    assert b"\r" not in heard
    assert b"M105" not in heard


async def test_an_accelerated_job_runs_to_its_end_on_the_wire() -> None:
    """Six minutes of a job in about a second: what the demonstration lives on."""
    told: list[tuple[float, str]] = []
    heard = b""

    async with living(
        clock=Clock(400.0),
        script="at 2 s choose thumb-ring.gcode\nat 5 s start",
        tell=lambda at, what: told.append((at, what)),
    ) as pty:
        port = opened(pty.path)

        def done() -> bool:
            nonlocal heard
            heard += fetched(port)
            return b"Done printing file" in heard

        try:
            await until(done)
        finally:
            os.close(port)
        assert 300 < pty.machine.now < 500
    assert told == [(2.0, "panel: choose thumb-ring.gcode"), (5.0, "panel: start")]
    lines = heard.decode().splitlines()
    assert "File selected" in lines
    assert sum("W:" in line for line in lines) > 100
    assert not [line for line in lines if line and not line.startswith(("start", " ", "P", "e", "F", "D"))]


async def test_a_reader_that_is_lost_does_not_hold_the_machine_up() -> None:
    async with living() as pty:
        await until(lambda: pty.machine.now > 3)
        port = opened(pty.path)
        os.write(port, b"M155 S1\n")
        await until(lambda: pty.machine.controller.chatter.report_every == 1)
        os.close(port)
        await until(lambda: not pty._open)
        before = pty.machine.now
        await until(lambda: pty.machine.now > before + 30)
        port = opened(pty.path)
        await until(lambda: pty._open)
        stale = fetched(port)
        os.close(port)
    assert len(stale) < 500  # what was said to nobody is gone


@pytest.mark.parametrize("unread", ["drop", "hold"])
async def test_a_reader_that_does_not_fetch_does_not_hold_the_machine_up(unread: str) -> None:
    async with living(unread=unread, clock=Clock(2000.0)) as pty:
        await until(lambda: pty.machine.now > 3)
        port = opened(pty.path)
        os.write(port, b"M155 S1\n")
        try:
            await until(lambda: pty.machine.now > 2500)
            assert not pty.machine.controller.frozen
            assert bool(pty._pending) == (unread == "hold")
        finally:
            os.close(port)


async def test_a_controller_that_hangs_on_a_full_buffer_keeps_its_heaters_as_they_were() -> None:
    """Why the watch must never stop reading: in this state nothing watches the heat."""
    async with living(unread="hang", clock=Clock(2000.0)) as pty:
        await until(lambda: pty.machine.now > 3)
        port = opened(pty.path)
        os.write(port, b"M155 S1\n")
        pty.machine.panel.preheat(205.0)
        try:
            await until(lambda: pty.machine.controller.frozen)
            assert pty.machine.nozzle.duty > 0
            hung_at = pty.machine.now
            await until(lambda: pty.machine.now > hung_at + 100)
            assert pty.machine.controller.frozen

            def goes_on() -> bool:
                fetched(port)
                return not pty.machine.controller.frozen

            await until(goes_on)
        finally:
            os.close(port)


async def test_a_pulled_cable_ends_the_reader_and_takes_the_name_away(tmp_path: Path) -> None:
    link = tmp_path / "machine"
    async with living(link=link) as pty:
        port = opened(str(link))
        try:
            await until(lambda: pty._open)
            first = os.readlink(link)
            pty.do("unplug")
            assert not link.is_symlink()
            with pytest.raises(OSError, match="Input/output"):
                os.write(port, b"M105\n")
            pty.do("replug")
            assert link.is_symlink()
            again = opened(str(link))
            assert os.ttyname(again) == os.readlink(link)
            os.close(again)
            assert first.startswith("/dev/")
        finally:
            os.close(port)


@pytest.mark.parametrize("keeps_lines", [True, False])
async def test_a_board_wired_to_reset_restarts_at_an_edge_of_the_modem_lines_only(keeps_lines: bool) -> None:
    """The first opening is an edge. The next is one only if the last close let the lines drop (HUPCL)."""
    async with living(resets_on_open=True) as pty:
        heard = b""

        def fetch(port: int, wanted: bytes) -> bool:
            nonlocal heard
            heard += fetched(port)
            return wanted in heard

        await until(lambda: pty.machine.now > 3)
        port = opened(pty.path)
        await until(lambda: fetch(port, b" External Reset\n"))
        attributes = termios.tcgetattr(port)
        assert attributes[2] & termios.HUPCL
        if keeps_lines:
            attributes[2] &= ~termios.HUPCL
            termios.tcsetattr(port, termios.TCSANOW, attributes)
        os.close(port)
        await until(lambda: not pty._open)
        heard = b""
        port = opened(pty.path)
        await until(lambda: pty._open)
        before = pty.machine.now
        await until(lambda: pty.machine.now > before + 5)
        os.write(port, b"M105\n")
        await until(lambda: fetch(port, b"ok T:"))
        os.close(port)
    assert (b"External Reset" in heard) is not keeps_lines


async def test_what_is_done_to_it_is_told() -> None:
    told: list[str] = []
    async with living(tell=lambda at, what: told.append(what)) as pty:
        await until(lambda: pty.machine.now > 3)
        pty.do("preheat", "205 60")
        pty.do("fault", "heater-open")
        pty.do("heal")
        assert pty.machine.nozzle.target == 205
    assert told == ["panel: preheat 205 60", "fault heater-open", "heal"]
