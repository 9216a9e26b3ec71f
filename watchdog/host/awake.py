"""Keeps this computer awake while a job depends on it: a sleep and shutdown inhibitor of the login manager.

Source: systemd, "Inhibitor Locks" and org.freedesktop.login1(5): `Inhibit(what, who, why, mode)` on /org/freedesktop/login1
gives a file descriptor, and the lock lasts until that is closed. Mode 'block' holds back what users and programs ask for; root
can override it. Needs the library dbus-fast (`pip install '.[awake]'`) and a system bus; without them the watch goes on,
and says once that the computer may sleep.
"""

import asyncio
import os
from collections.abc import Callable
from types import ModuleType
from typing import Any, Final, Protocol

WHAT: Final = "sleep:shutdown"
WHO: Final = "emberward"
WHY: Final = "A print job depends on this computer"
_PATIENCE = 10.0  # s for the bus to answer
_PAUSE = 60.0  # s before another try


class Sleeps(Protocol):
    """Waits on the service's clock."""

    async def __call__(self, seconds: float) -> None:
        """Wait."""


class Awake:
    """Holds the inhibitor while `wanted` is set. Never raises: what is wrong is said through `report` (None: nothing is)."""

    def __init__(self, report: Callable[[str | None], None], sleep: Sleeps, address: str | None = None) -> None:
        """`address`: of the bus; the system's own when left out."""
        self._report = report
        self._sleep = sleep
        self._address = address
        self._wanted = asyncio.Event()
        self._unwanted = asyncio.Event()
        self._unwanted.set()
        self.held = False
        """the computer is held awake just now"""

    def want(self, wanted: bool) -> None:
        """Whether a job depends on this computer now."""
        if wanted:
            self._unwanted.clear()
            self._wanted.set()
        else:
            self._wanted.clear()
            self._unwanted.set()

    async def run(self) -> None:
        """For ever: take the lock when it is wanted, let it go when it is not."""
        while True:
            await self._wanted.wait()
            try:
                descriptor = await self._inhibit()
            except (OSError, EOFError, ImportError, TimeoutError, RuntimeError, ValueError) as wrong:
                self._report(
                    f"This computer cannot be kept awake in a job ({_plain(wrong)}). Switch its sleep off by hand."
                )
                await self._sleep(_PAUSE)
                continue
            self._report(None)
            self.held = True
            try:
                await self._unwanted.wait()
            finally:
                self.held = False
                os.close(descriptor)

    async def _inhibit(self) -> int:
        """The lock's descriptor, ours to close."""
        aio, fast, message = _library()
        bus = aio.MessageBus(bus_address=self._address, bus_type=fast.BusType.SYSTEM, negotiate_unix_fd=True)
        try:
            async with asyncio.timeout(_PATIENCE):
                await bus.connect()
                reply = await bus.call(
                    message.Message(
                        destination="org.freedesktop.login1",
                        path="/org/freedesktop/login1",
                        interface="org.freedesktop.login1.Manager",
                        member="Inhibit",
                        signature="ssss",
                        body=[WHAT, WHO, WHY, "block"],
                    )
                )
                descriptor = _descriptor(reply)
                bus.disconnect()
                await bus.wait_for_disconnect()
        finally:
            bus.disconnect()
        return descriptor


def _library() -> tuple[ModuleType, ModuleType, ModuleType]:
    """Loaded only when a job needs it: it takes memory that a card job's watch can do without."""
    import dbus_fast
    import dbus_fast.aio
    import dbus_fast.message

    return dbus_fast.aio, dbus_fast, dbus_fast.message


def _descriptor(reply: Any) -> int:
    if reply is None or reply.error_name is not None or not reply.unix_fds:
        why = "no answer" if reply is None else reply.error_name or "no lock was given"
        raise ValueError(why)
    first, *others = reply.unix_fds
    for extra in others:
        os.close(extra)
    return int(first)


def _plain(wrong: BaseException) -> str:
    if isinstance(wrong, ImportError):
        return "the package dbus-fast is not installed"
    if isinstance(wrong, FileNotFoundError | ConnectionRefusedError):
        return "there is no system bus on it"
    if isinstance(wrong, TimeoutError):
        return "the login manager does not answer"
    return str(wrong).split("\n")[0][:120] or type(wrong).__name__
