"""Real pseudo-terminals, and a list of what was heard."""

import asyncio
import contextlib
import os
import pty
import tty
from collections.abc import AsyncIterator, Callable, Coroutine, Iterator
from pathlib import Path
from typing import Any

import pytest

from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction

Heard = tuple[Moment, Direction, str]


class Ear:
    """Keeps what a source says, and lets a test wait for it."""

    def __init__(self) -> None:
        self.all: list[Heard] = []

    def __call__(self, at: Moment, direction: Direction, text: str) -> None:
        self.all.append((at, direction, text))

    def of(self, direction: Direction) -> list[str]:
        return [text for _, spoke, text in self.all if spoke is direction]

    @property
    def received(self) -> list[str]:
        return self.of(Direction.RECEIVED)

    @property
    def remarks(self) -> list[str]:
        return self.of(Direction.REMARK)

    async def until(self, come: Callable[[], bool], what: str = "what was waited for") -> None:
        """Wait for an event, not for a time; the limit only ends a test that has failed."""
        for _ in range(2000):
            if come():
                return
            await asyncio.sleep(0.01)
        raise AssertionError(f"{what} did not come; heard: {self.all[-20:]}")


class Terminal:
    """The machine's end of a real pseudo-terminal; `name` is what the source opens, a link as udev makes it."""

    def __init__(self, link: Path) -> None:
        self.link = link
        self.plug_in()

    def plug_in(self) -> None:
        """A fresh device behind the same name, as after a cable was put back."""
        self.end, slave = pty.openpty()
        tty.setraw(slave)
        self.device = os.ttyname(slave)
        os.close(slave)
        os.set_blocking(self.end, False)
        self.link.unlink(missing_ok=True)
        self.link.symlink_to(self.device)

    def unplug(self) -> None:
        """Pull the cable."""
        self.link.unlink(missing_ok=True)
        self.close()

    def close(self) -> None:
        if self.end >= 0:
            os.close(self.end)
        self.end = -1

    def say(self, sent: bytes) -> None:
        assert os.write(self.end, sent) == len(sent)

    def asked(self) -> bytes:
        try:
            return os.read(self.end, 65536)
        except (BlockingIOError, OSError):
            return b""


@pytest.fixture
def ear() -> Ear:
    return Ear()


@pytest.fixture
def terminal(tmp_path: Path) -> Iterator[Terminal]:
    made = Terminal(tmp_path / "usb-bridge-if00-port0")
    yield made
    made.close()


@pytest.fixture
def running() -> Callable[..., contextlib.AbstractAsyncContextManager[None]]:
    """`async with running(source.run()):` runs it for the length of the block."""

    @contextlib.asynccontextmanager
    async def run(*works: Coroutine[Any, Any, None]) -> AsyncIterator[None]:
        tasks = [asyncio.get_running_loop().create_task(work) for work in works]
        try:
            yield
        finally:
            for task in tasks:
                task.cancel()
            for ended in await asyncio.gather(*tasks, return_exceptions=True):
                if isinstance(ended, BaseException) and not isinstance(ended, asyncio.CancelledError):
                    raise ended

    return run
