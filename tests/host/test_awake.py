"""The computer is kept awake while a job depends on it: a real bus, a stand-in login manager, real file descriptors."""

import asyncio
import os
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from dbus_fast import Message, MessageType
from dbus_fast.aio import MessageBus

from watchdog.host.awake import WHO, Awake

CONFIG = """<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-BUS Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig><type>session</type><listen>unix:path={socket}</listen><auth>EXTERNAL</auth>
<policy context="default"><allow send_destination="*" eavesdrop="true"/><allow eavesdrop="true"/><allow own="*"/></policy>
</busconfig>"""


@pytest.fixture
def bus(tmp_path: Path) -> Iterator[str]:
    if shutil.which("dbus-daemon") is None:
        pytest.skip("needs dbus-daemon")
    (tmp_path / "bus.conf").write_text(CONFIG.format(socket=tmp_path / "bus"))
    daemon = subprocess.Popen(
        ["dbus-daemon", f"--config-file={tmp_path / 'bus.conf'}", "--nofork", "--print-address=1"],
        stdout=subprocess.PIPE,
        text=True,
    )
    assert daemon.stdout is not None
    address = daemon.stdout.readline().strip()
    yield address
    daemon.terminate()
    daemon.wait()
    daemon.stdout.close()


class LoginManager:
    """Answers `Inhibit` as org.freedesktop.login1 does: with one end of a pipe; the lock lasts until that is closed."""

    def __init__(self) -> None:
        self.asked: list[list[str]] = []
        self.locks: list[int] = []
        self.given: list[int] = []
        self.refuses = False

    async def serve(self, address: str) -> MessageBus:
        bus = await MessageBus(bus_address=address, negotiate_unix_fd=True).connect()
        bus.add_message_handler(self._handle)
        await bus.request_name("org.freedesktop.login1")
        return bus

    def _handle(self, message: Message) -> Message | None:
        if message.message_type is not MessageType.METHOD_CALL or message.member != "Inhibit":
            return None
        self.asked.append(message.body)
        if self.refuses:
            return Message.new_error(message, "org.freedesktop.DBus.Error.AccessDenied", "not for you")
        ours, theirs = os.pipe()
        os.set_blocking(ours, False)
        self.locks.append(ours)
        self.given.append(theirs)
        return Message.new_method_return(message, "h", [0], [theirs])

    async def close(self, wire: MessageBus) -> None:
        """Leave the bus."""
        wire.disconnect()
        await wire.wait_for_disconnect()  # type: ignore[no-untyped-call]
        for lock in self.locks:
            os.close(lock)

    def handed_over(self) -> None:
        """The caller has its copy: let go of our own of that end, as the real one does."""
        while self.given:
            os.close(self.given.pop())

    def locked(self, lock: int) -> bool:
        """The other end of the pipe is still held open by somebody."""
        try:
            return os.read(self.locks[lock], 1) != b""
        except BlockingIOError:
            return True


async def until(condition: Callable[[], object], what: str) -> None:
    """Wait until `condition()` holds."""
    for _ in range(2000):
        if condition():
            return
        await asyncio.sleep(0.01)
    pytest.fail(f"in vain: {what}")


async def no_pause(seconds: float) -> None:
    await asyncio.sleep(0.01)


async def test_the_lock_is_held_exactly_while_a_job_depends_on_this_computer(bus: str) -> None:
    manager, said = LoginManager(), list[str | None]()
    wire = await manager.serve(bus)
    awake = Awake(said.append, no_pause, bus)
    async with asyncio.TaskGroup() as tasks:
        running = tasks.create_task(awake.run())
        await asyncio.sleep(0)
        assert manager.asked == []
        awake.want(True)
        await until(lambda: awake.held, "the lock is taken")
        manager.handed_over()
        assert manager.asked[0][:2] == ["sleep:shutdown", WHO]
        assert manager.asked[0][3] == "block"
        assert manager.locked(0)
        awake.want(False)
        await until(lambda: not manager.locked(0), "the lock is let go")
        awake.want(True)
        await until(lambda: len(manager.asked) == 2 and awake.held, "it is taken again for the next job")
        manager.handed_over()
        running.cancel()
    await until(lambda: not manager.locked(1), "a service that ends lets the lock go")
    assert said == [None, None]
    await manager.close(wire)


async def test_a_refusal_is_said_and_tried_again(bus: str) -> None:
    """A computer that may sleep in the middle of a streamed job must be known to."""
    manager, said = LoginManager(), list[str | None]()
    manager.refuses = True
    wire = await manager.serve(bus)
    awake = Awake(said.append, no_pause, bus)
    async with asyncio.TaskGroup() as tasks:
        running = tasks.create_task(awake.run())
        awake.want(True)
        await until(lambda: len(manager.asked) >= 2, "it tries again")
        manager.refuses = False
        await until(lambda: awake.held, "and has it in the end")
        manager.handed_over()
        running.cancel()
    assert "AccessDenied" in str(said[0])
    assert said[-1] is None
    await manager.close(wire)


@pytest.mark.parametrize("address", ["unix:path=/nowhere/at/all", "no address"])
async def test_without_a_bus_the_watch_goes_on_and_says_so(address: str) -> None:
    said: list[str | None] = []
    awake = Awake(said.append, no_pause, address)
    async with asyncio.TaskGroup() as tasks:
        running = tasks.create_task(awake.run())
        awake.want(True)
        await until(lambda: len(said) >= 2, "it goes on trying")
        running.cancel()
    assert not awake.held
    assert all(sentence is not None and "Switch its sleep off by hand" in sentence for sentence in said)
    assert ("no system bus" in str(said[0])) == address.startswith("unix:")


async def test_a_login_manager_that_is_not_there_is_said(bus: str) -> None:
    said: list[str | None] = []
    awake = Awake(said.append, no_pause, bus)
    async with asyncio.TaskGroup() as tasks:
        running = tasks.create_task(awake.run())
        awake.want(True)
        await until(lambda: said, "said")
        running.cancel()
    assert "ServiceUnknown" in str(said[0]) or "NameHasNoOwner" in str(said[0])
