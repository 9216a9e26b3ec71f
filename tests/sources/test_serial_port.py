"""The serial source on real pseudo-terminals."""

import asyncio
import errno
import os
import random
import shutil
import subprocess
import sys
import termios
import threading
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from pathlib import Path
from typing import Any

import pytest

import watchdog
from watchdog.clock import Clock
from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction
from watchdog.sources.framer import CUT, LIMIT, NULS
from watchdog.sources.recorder import Recorder, RecorderOptions
from watchdog.sources.serial_names import NoPortFound, PortNotChosen, SeveralPortsFound, find_port
from watchdog.sources.serial_opening import close_port, open_port, refuse_others
from watchdog.sources.serial_port import SerialOptions, SerialSource

Running = Callable[..., AbstractAsyncContextManager[None]]
REPORT = b" T:204.87 /205.00 B:59.94 /60.00 @:71 B@:33\n"
TEXT = REPORT.decode().strip("\n")


def ask_only_temperatures(text: str) -> bool:
    return text == "M105"


def source_of(terminal: Any, ear: Any, **options: Any) -> SerialSource:
    return SerialSource(
        SerialOptions(port=str(terminal.link), **{"back_off": 0.02, "back_off_most": 0.1, **options}),
        Clock(),
        ear,
        permitted=ask_only_temperatures,
        say=lambda sentence: None,
    )


# ---------------------------------------------------------------- bad wires, which compose


class Straight:
    """Bytes to the terminal as they are, waiting while its buffer is full."""

    def __init__(self, terminal: Any) -> None:
        self.terminal = terminal

    async def say(self, sent: bytes) -> None:
        while sent:
            try:
                sent = sent[os.write(self.terminal.end, sent) :]
            except BlockingIOError:
                await asyncio.sleep(0.001)


class OneByteAtATime:
    """Every byte by itself, with room for a read in between."""

    def __init__(self, wire: Any) -> None:
        self.wire = wire

    async def say(self, sent: bytes) -> None:
        for place in range(len(sent)):
            await self.wire.say(sent[place : place + 1])
            await asyncio.sleep(0)


class Losing:
    """A share of the bytes never arrives."""

    def __init__(self, wire: Any, share: float, seed: int) -> None:
        self.wire, self.share, self.random = wire, share, random.Random(seed)

    async def say(self, sent: bytes) -> None:
        await self.wire.say(bytes(byte for byte in sent if self.random.random() >= self.share))


class WrongSpeed:
    """What a receiver at another speed makes of it: other bytes, few line ends, no text."""

    def __init__(self, wire: Any, seed: int) -> None:
        self.wire, self.random = wire, random.Random(seed)

    async def say(self, sent: bytes) -> None:
        await self.wire.say(bytes(self.random.choice(b"\x00\x80\xf0\xfe\xff\x1e\x78") for _ in sent))


async def test_lines_are_heard_between_the_remarks_about_the_link(terminal: Any, ear: Any, running: Running) -> None:
    source = source_of(terminal, ear)
    async with running(source.run()):
        await ear.until(lambda: source.is_open)
        terminal.say(b"start\r\n" + REPORT + b"ok")
        await ear.until(lambda: len(ear.received) == 2)
        assert source.trouble is None
    assert ear.received == ["start", TEXT]
    assert ear.remarks == ["watch started", "link opened", "link closed", "watch stopped"]
    assert source.bytes_read == 7 + len(REPORT) + 2
    assert not source.is_open


async def test_time_runs_forward_in_what_is_heard(terminal: Any, ear: Any, running: Running) -> None:
    source = source_of(terminal, ear)
    async with running(source.run()):
        await ear.until(lambda: source.is_open)
        for n in range(50):
            await OneByteAtATime(Straight(terminal)).say(b"ok %d\n" % n)
        await ear.until(lambda: len(ear.received) == 50)
    times = [at.elapsed for at, _, _ in ear.all]
    assert times == sorted(times)


async def test_a_slow_and_lossy_wire_loses_lines_and_nothing_else(terminal: Any, ear: Any, running: Running) -> None:
    source = source_of(terminal, ear)
    wire = OneByteAtATime(Losing(Straight(terminal), share=0.05, seed=7))
    async with running(source.run()):
        await ear.until(lambda: source.is_open)
        for _ in range(20):
            await wire.say(REPORT)
        await Straight(terminal).say(b"\nend\n")
        await ear.until(lambda: "end" in ear.received)
    assert 5 <= len(ear.received) <= 21
    assert any(text != TEXT for text in ear.received[:-1])


async def test_a_wrong_speed_is_rubbish_and_not_silence(terminal: Any, ear: Any, running: Running) -> None:
    """Silence would send somebody to the machine; the cure is one line in the settings."""
    source = source_of(terminal, ear)
    async with running(source.run()):
        await ear.until(lambda: source.is_open)
        for _ in range(200):
            await WrongSpeed(Straight(terminal), seed=11).say(REPORT)
        await ear.until(lambda: bool(ear.received))
        await Straight(terminal).say(b"\n" + REPORT)
        await ear.until(lambda: TEXT in ear.received)
    assert "\\xff" in ear.received[0]


async def test_a_line_of_a_megabyte_and_a_flood_of_nuls_pass(terminal: Any, ear: Any, running: Running) -> None:
    source = source_of(terminal, ear)
    async with running(source.run()):
        await ear.until(lambda: source.is_open)
        await Straight(terminal).say(b"z" * 1_000_000 + b"\n" + b"\0" * 200_000 + b"\n" + REPORT)
        await ear.until(lambda: TEXT in ear.received)
        assert ear.received == ["z" * LIMIT + CUT, NULS, NULS, NULS, NULS, TEXT]
        assert source.bytes_read == 1_200_002 + len(REPORT)
    assert source.framer.cut == 1
    assert source.framer.nuls == 200_000


# ---------------------------------------------------------------- speaking


async def test_a_permitted_query_goes_out_whole_and_is_heard_as_sent(terminal: Any, ear: Any, running: Running) -> None:
    source = source_of(terminal, ear)
    assert source.send("M105") is False, "the port is not open yet"
    async with running(source.run()):
        await ear.until(lambda: source.is_open)
        assert source.send("M105") is True
        assert terminal.asked() == b"M105\n"
    assert ear.of(Direction.SENT) == ["M105"]


@pytest.mark.parametrize("text", ["M112", "M105\nM112", "M105\x18", "", "M105 " + "x" * 100, "M105°"])
async def test_what_is_not_permitted_never_reaches_the_machine(
    text: str, terminal: Any, ear: Any, running: Running
) -> None:
    """A halt sent by mistake ends a pupil's job."""
    source = source_of(terminal, ear)
    async with running(source.run()):
        await ear.until(lambda: source.is_open)
        assert source.send(text) is False
        assert source.send("M105") is True
        assert terminal.asked() == b"M105\n"
    assert source.refused == 1
    assert ear.of(Direction.SENT) == ["M105"]


async def test_a_full_buffer_refuses_a_line_and_reading_goes_on(terminal: Any, ear: Any, running: Running) -> None:
    """A machine that does not take commands must not stop the watch, nor get half a command."""
    source = source_of(terminal, ear)
    async with running(source.run()):
        await ear.until(lambda: source.is_open)
        sent = 0
        while source.send("M105"):
            sent += 1
            assert sent < 1_000_000
        terminal.say(REPORT)
        await ear.until(lambda: ear.received == [TEXT])
        got = b""
        while len(got) < 5 * sent:
            got += terminal.asked()
            await asyncio.sleep(0)
        assert got == b"M105\n" * sent
        await ear.until(lambda: source.send("M105"))
    assert len(ear.of(Direction.SENT)) == sent + 1


# ---------------------------------------------------------------- coming and going


async def test_a_pulled_cable_is_news_and_its_return_is_too(terminal: Any, ear: Any, running: Running) -> None:
    source = source_of(terminal, ear)
    async with running(source.run()):
        for turn in range(1, 4):
            await ear.until(lambda: source.is_open)
            terminal.say(REPORT + b"T:2")
            await ear.until(lambda turn=turn: len(ear.received) == turn)
            terminal.unplug()
            await ear.until(lambda: not source.is_open)
            await ear.until(lambda: "is not there" in (source.trouble or ""))
            terminal.plug_in()
        await ear.until(lambda: source.is_open)
    assert ear.received == [TEXT] * 3, "the half line before each loss is no line"
    assert ear.remarks[0] == "watch started"
    assert [remark.split(":")[0] for remark in ear.remarks[1:-1]] == ["link opened", "link closed"] * 4
    assert all(remark.startswith("link closed: ") for remark in ear.remarks[2:-3:2])


async def test_after_a_hang_up_the_loop_does_not_spin(terminal: Any, ear: Any, running: Running) -> None:
    """A dead descriptor stays readable for ever: the small computer would run hot and late."""
    source = source_of(terminal, ear, back_off=30.0, back_off_most=30.0)
    async with running(source.run()):
        await ear.until(lambda: source.is_open)
        terminal.close()
        await ear.until(lambda: not source.is_open)
        loop = asyncio.get_running_loop()
        rounds = 0

        def count() -> None:
            nonlocal rounds
            rounds += 1

        watched = loop._selector.select  # type: ignore[attr-defined]

        def counting(timeout: float | None = None) -> Any:
            count()
            return watched(timeout)

        loop._selector.select = counting  # type: ignore[attr-defined]
        await asyncio.sleep(0.3)
        loop._selector.select = watched  # type: ignore[attr-defined]
    assert rounds < 50


async def test_a_device_that_comes_later_is_waited_for(terminal: Any, ear: Any, running: Running) -> None:
    terminal.unplug()
    source = source_of(terminal, ear)
    async with running(source.run()):
        await ear.until(lambda: source.trouble is not None)
        assert "is not there" in str(source.trouble)
        terminal.plug_in()
        await ear.until(lambda: source.is_open)
        assert source.trouble is None
    assert [remark.split(":")[0] for remark in ear.remarks] == [
        "watch started", "link closed", "link opened", "link closed", "watch stopped",
    ]  # fmt: skip


async def test_an_error_of_the_listener_ends_the_source(terminal: Any, ear: Any) -> None:
    """A room that fails ends the service: half a watch would look like a whole one."""

    def hear(at: object, direction: Direction, text: str) -> None:
        if direction is Direction.RECEIVED:
            raise RuntimeError("the core is broken")

    source = SerialSource(
        SerialOptions(port=str(terminal.link)),
        Clock(),
        hear,
        permitted=ask_only_temperatures,
        say=lambda sentence: None,
    )
    run = asyncio.get_running_loop().create_task(source.run())
    await ear.until(lambda: source.is_open)
    terminal.say(REPORT)
    with pytest.raises(ExceptionGroup) as caught:
        await run
    assert caught.group_contains(RuntimeError, match="the core is broken")


# ---------------------------------------------------------------- which port, and whose


def test_the_only_serial_device_is_found_by_its_stable_name(tmp_path: Path, terminal: Any) -> None:
    names = tmp_path / "by-id"
    names.mkdir()
    (names / "usb-bridge-if00").symlink_to(terminal.device)
    (names / "usb-bridge-if00-second-name").symlink_to(terminal.device)
    (names / "usb-gone-if00").symlink_to("/dev/gone")
    assert find_port(names) == names / "usb-bridge-if00"


def test_without_a_device_the_sentence_tells_how_to_name_one(tmp_path: Path) -> None:
    for names in (tmp_path, tmp_path / "missing"):
        with pytest.raises(NoPortFound, match=r'plugged in\? Name one in the settings: port = "/dev/serial/by-id'):
            find_port(names)


def test_of_several_devices_none_is_guessed(tmp_path: Path) -> None:
    """A guess could open the other machine, and end its job."""
    for name in ("usb-one", "usb-two"):
        (tmp_path / name).write_text("")
    with pytest.raises(SeveralPortsFound, match=r"2 serial devices are plugged in \(usb-one, usb-two\)") as caught:
        find_port(tmp_path)
    assert isinstance(caught.value, PortNotChosen)


async def test_a_port_once_found_is_never_swapped_for_another(
    tmp_path: Path, terminal: Any, ear: Any, running: Running
) -> None:
    names = tmp_path / "by-id"
    names.mkdir()
    terminal.link = names / "usb-bridge-if00"
    terminal.link.symlink_to(terminal.device)
    source = SerialSource(
        SerialOptions(names=names, back_off=0.02),
        Clock(),
        ear,
        permitted=ask_only_temperatures,
        say=lambda sentence: None,
    )
    async with running(source.run()):
        await ear.until(lambda: source.is_open)
        terminal.unplug()
        (names / "usb-other-if00").symlink_to("/dev/null")
        await ear.until(lambda: "is not there" in (source.trouble or ""))
        assert source.port == str(names / "usb-bridge-if00")


async def test_a_port_that_another_program_has_open_is_left_alone(terminal: Any, ear: Any, running: Running) -> None:
    """Two readers share out the bytes at random: the other program's job would be ruined."""
    holder = subprocess.Popen(  # noqa: ASYNC220 - nothing else runs yet
        [sys.executable, "-c", "import os,sys; os.open(sys.argv[1], os.O_RDWR); print('has it', flush=True); sys.stdin.read()",
         terminal.device],
        stdin=subprocess.PIPE, stdout=subprocess.PIPE,
    )  # fmt: skip
    with holder:
        assert holder.stdout is not None
        holder.stdout.readline()
        source = source_of(terminal, ear)
        async with running(source.run()):
            await ear.until(lambda: source.trouble is not None)
            assert f"(process {holder.pid})" in str(source.trouble)
            assert "in use by" in str(source.trouble)
            assert not source.is_open
            holder.communicate()
            await ear.until(lambda: source.is_open)
    assert ear.remarks[1].startswith("link closed: ")


async def test_a_second_watch_on_the_same_port_is_kept_out(terminal: Any, ear: Any, running: Running) -> None:
    first, second = source_of(terminal, ear), source_of(terminal, lambda *said: None)
    async with running(first.run()):
        await ear.until(lambda: first.is_open)
        async with running(second.run()):  # the same process: only the lock tells
            await ear.until(lambda: second.trouble is not None)
            assert "cannot be opened" in str(second.trouble)
            assert not second.is_open


# ---------------------------------------------------------------- the modem lines

_OPEN_AND_CLOSE = """
import sys, termios
from watchdog.sources.serial_opening import open_port, close_port
opened = open_port(sys.argv[1], 115200)
print(opened.lines_may_have_risen)
close_port(opened)
"""


def test_neither_opening_nor_closing_lowers_a_modem_line(terminal: Any, tmp_path: Path) -> None:
    """A board with DTR wired to its reset would restart in mid-job."""
    if shutil.which("strace") is None:
        pytest.skip("strace is not installed: the modem-line calls cannot be seen")
    trace = tmp_path / "trace"
    run = subprocess.run(
        ["strace", "-f", "-e", "trace=ioctl,openat", "-o", trace, sys.executable, "-c", _OPEN_AND_CLOSE, terminal.link],
        env={**os.environ, "PYTHONPATH": str(Path(watchdog.__file__).parents[1])}, capture_output=True, text=True, check=False,
    )  # fmt: skip
    if run.returncode and "ptrace" in run.stderr:
        pytest.skip("this computer does not let strace look on")
    assert run.returncode == 0, run.stderr
    calls = trace.read_text()
    assert f'"{terminal.device}"' in calls, "the trace holds the opening"
    assert "TCSETS" in calls, "the trace holds the terminal's calls"
    raised = [line for line in calls.splitlines() if "TIOCMBIS" in line]
    assert raised, (
        "DTR at least, which the kernel has raised already (a pseudo-terminal refuses it, and RTS is not tried)"
    )
    for lowering in ("TIOCMBIC", "TIOCMSET"):
        assert lowering not in calls


def test_the_lines_stay_up_when_the_port_is_closed(terminal: Any) -> None:
    """HUPCL is seen from the machine's end; our own restart must not be the machine's restart."""
    iflag, oflag, cflag, lflag, ispeed, ospeed, control = termios.tcgetattr(terminal.end)
    termios.tcsetattr(
        terminal.end, termios.TCSANOW, [iflag, oflag, cflag | termios.HUPCL, lflag, ispeed, ospeed, control]
    )
    assert termios.tcgetattr(terminal.end)[2] & termios.HUPCL
    opened = open_port(str(terminal.link), 115_200)
    assert opened.lines_may_have_risen is True
    assert not termios.tcgetattr(terminal.end)[2] & termios.HUPCL
    assert not termios.tcgetattr(terminal.end)[2] & termios.CRTSCTS
    close_port(opened)
    again = open_port(str(terminal.link), 115_200)
    assert again.lines_may_have_risen is False
    assert not termios.tcgetattr(terminal.end)[2] & termios.HUPCL
    close_port(again)


@pytest.mark.parametrize(("known", "said"), [(None, "A board that is wired so"), (True, "This board"), (False, None)])
async def test_the_operator_is_told_when_opening_may_have_restarted_the_board(
    known: bool | None, said: str | None, terminal: Any, ear: Any, running: Running
) -> None:
    settings = termios.tcgetattr(terminal.end)
    settings[2] |= termios.HUPCL
    termios.tcsetattr(terminal.end, termios.TCSANOW, settings)
    sentences: list[str] = []
    source = SerialSource(
        SerialOptions(port=str(terminal.link), resets_on_open=known),
        Clock(), ear, permitted=ask_only_temperatures, say=sentences.append,
    )  # fmt: skip
    async with running(source.run()):
        await ear.until(lambda: source.is_open)
    assert source.lines_may_have_risen is True
    assert [said in sentence for sentence in sentences if said] == ([True] if said else [])
    assert len(sentences) == (0 if said is None else 1)


def test_others_are_refused_and_a_pseudo_terminal_is_not_marked(terminal: Any) -> None:
    """A pseudo-terminal keeps the mark after our close: a restarted watch would be shut out of a simulated machine."""
    opened = open_port(str(terminal.link), 115_200)
    assert opened.descriptor is not None
    assert _opening_by_nobody(terminal.device) == 0
    refuse_others(opened.descriptor)
    assert _opening_by_nobody(terminal.device) == errno.EBUSY
    close_port(opened)
    assert _opening_by_nobody(terminal.device) == errno.EBUSY, "the reason for the exception"


def _opening_by_nobody(device: str) -> int:
    """The error number that an ordinary user gets who opens `device`; 0 when it opens."""
    if os.getuid() != 0:
        try:
            os.close(os.open(device, os.O_RDWR | os.O_NOCTTY))
        except OSError as fault:
            return int(fault.errno or -1)
        return 0
    os.chmod(device, 0o666)
    tried = subprocess.run(
        ["/bin/sh", "-c", ': <> "$1"', "sh", device],
        user=65534, group=65534, extra_groups=[], check=False, cwd="/", env={"LC_ALL": "C"}, capture_output=True, text=True,
    )  # fmt: skip
    if tried.returncode == 0:
        return 0
    return errno.EBUSY if os.strerror(errno.EBUSY) in tried.stderr or "busy" in tried.stderr else -1


async def test_a_missing_speed_or_an_ordinary_file_is_a_sentence(tmp_path: Path, ear: Any, running: Running) -> None:
    ordinary = tmp_path / "not-a-port"
    ordinary.write_text("hello")
    source = SerialSource(
        SerialOptions(port=str(ordinary), back_off=0.02),
        Clock(),
        ear,
        permitted=ask_only_temperatures,
        say=lambda s: None,
    )
    async with running(source.run()):
        await ear.until(lambda: source.trouble is not None)
    assert f"{ordinary} cannot be opened" in ear.remarks[1]
    assert ordinary.read_text() == "hello"


# ---------------------------------------------------------------- never stops reading


async def test_the_port_is_emptied_while_disk_and_threads_are_stuck(
    terminal: Any, ear: Any, running: Running, tmp_path: Path
) -> None:
    """A machine that cannot get rid of its words may stop regulating its heaters. Counted in bytes, not in time."""
    fifo = tmp_path / "nobody-reads"
    os.mkfifo(fifo)
    recorder = Recorder(
        tmp_path, "doorway-1", RecorderOptions(backlog=50), opener=lambda path: os.open(fifo, os.O_WRONLY)
    )
    recorder.start()

    def hear(at: Moment, direction: Direction, text: str) -> None:
        recorder.hear(at, direction, text)
        ear(at, direction, text)

    released = threading.Event()
    stuck = [
        asyncio.get_running_loop().run_in_executor(None, released.wait) for _ in range(64)
    ]  # more than the pool has
    source = source_of(terminal, hear)
    async with running(source.run()):
        await ear.until(lambda: source.is_open)
        sent = REPORT * 20_000
        await Straight(terminal).say(sent)
        await ear.until(lambda: source.bytes_read == len(sent))
        assert ear.received == [TEXT] * 20_000
        assert recorder.dropped > 0, "the recorder is what gives way"
    released.set()
    await asyncio.gather(*stuck)
    assert recorder.stop(patience=0.1) is False
    with fifo.open("rb"):  # let its thread go
        recorder._thread.join(30)
    assert not recorder._thread.is_alive()


async def test_a_hold_up_of_the_loop_shows_in_the_longest_unread_time(
    terminal: Any, ear: Any, running: Running
) -> None:
    source = source_of(terminal, ear)
    async with running(source.run()):
        await ear.until(lambda: source.longest_unread > 0.0)
        threading.Event().wait(0.3)  # somebody holds the loop up
        await asyncio.sleep(0.11)
        assert source.longest_unread >= 0.3
