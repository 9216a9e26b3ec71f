"""The page's server inside the service: a port that is taken, ending, signals, and what it leaves alone."""

import asyncio
import http.client
import logging
import os
import signal
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from watchdog.clock import Clock
from watchdog.page.links import Key
from watchdog.page.options import Options
from watchdog.page.server import Page

Serve = Callable[..., Any]
ZONE = ZoneInfo("Europe/Lisbon")
KEY = Key(b"k" * 32)


class Waiting(Clock):
    """A clock whose pauses are told, and end when the test says so."""

    def __init__(self) -> None:
        super().__init__()
        self.pauses: list[float] = []
        self.paused = asyncio.Event()
        self.go_on = asyncio.Event()

    async def sleep(self, seconds: float) -> None:
        self.pauses.append(seconds)
        self.paused.set()
        await self.go_on.wait()
        self.go_on.clear()


def taken() -> socket.socket:
    """A port of this computer that somebody else listens on."""
    return socket.create_server(("127.0.0.1", 0))


def options(port: int, host: str = "127.0.0.1") -> Options:
    return Options(host, port, "http://watch.example.org", ZONE)


async def ask(port: int, host: str = "127.0.0.1") -> int:
    def one() -> int:
        asking = http.client.HTTPConnection(host, port, timeout=30)
        asking.request("GET", "/")
        status = asking.getresponse().status
        asking.close()
        return status

    return await asyncio.to_thread(one)


async def test_a_port_that_is_taken_is_told_tried_again_with_growing_pauses_and_told_to_be_well(serve: Serve) -> None:
    """The watch goes on meanwhile; only its links do not open, and somebody must know."""
    clock, reports, told = Waiting(), list[str | None](), asyncio.Event()

    def report(sentence: str | None) -> None:
        reports.append(sentence)
        if sentence is None:
            told.set()

    with taken() as other:
        port = other.getsockname()[1]
        page = Page(options(port), serve().workshop, KEY, clock, report)
        async with asyncio.TaskGroup() as group:
            task = group.create_task(page.run())
            for _ in range(8):
                await clock.paused.wait()
                clock.paused.clear()
                assert page.port is None
                if len(clock.pauses) == 8:
                    other.close()
                clock.go_on.set()
            await told.wait()
            assert await ask(port) == 404
            task.cancel()
    assert clock.pauses == [1, 2, 4, 8, 16, 32, 60, 60]
    sentence, over = reports
    assert sentence is not None
    assert sentence.startswith(f"the page cannot listen on 127.0.0.1:{port} (Address already in use)")
    assert "Free that port, or set page.listen to another" in sentence
    assert over is None


async def test_an_address_that_this_computer_has_not_is_told(serve: Serve) -> None:
    """192.0.2.0/24 is kept for examples (RFC 5737)."""
    clock, reports = Waiting(), list[str | None]()
    page = Page(options(8080, "192.0.2.1"), serve().workshop, KEY, clock, reports.append)
    async with asyncio.TaskGroup() as group:
        task = group.create_task(page.run())
        await clock.paused.wait()
        task.cancel()
    (sentence,) = reports
    assert sentence is not None
    assert "cannot listen on 192.0.2.1:8080 (Cannot assign requested address)" in sentence


def test_a_page_that_can_listen_reports_nothing(serve: Serve) -> None:
    page = serve()
    assert page.ask("GET", "/").status == 404
    assert page.reports == []


@pytest.mark.parametrize("host", ["::1", "::", "0.0.0.0"])
async def test_it_listens_where_it_is_told(serve: Serve, host: str) -> None:
    page = Page(options(0, host), serve().workshop, KEY, Clock(), lambda sentence: None)
    async with asyncio.TaskGroup() as group:
        task = group.create_task(page.run())
        await asyncio.sleep(0)
        if page.port is None:
            task.cancel()
            pytest.skip("this computer has no IPv6")
        reached = ["127.0.0.1"] if host == "0.0.0.0" else ["::1"] if host == "::1" else ["::1", "127.0.0.1"]
        for one in reached:
            assert await ask(page.port, one) == 404
        task.cancel()


async def test_when_it_ends_the_port_is_free_at_once_and_nobody_holds_it_up(serve: Serve) -> None:
    """A phone that keeps its connection open must not keep the service from ending."""
    page = Page(options(0), serve().workshop, KEY, Clock(), lambda sentence: None)
    async with asyncio.TaskGroup() as group:
        task = group.create_task(page.run())
        await asyncio.sleep(0)
        port = page.port
        assert port is not None
        assert await ask(port) == 404
        idle = await asyncio.to_thread(socket.create_connection, ("127.0.0.1", port), 30)
        half = await asyncio.to_thread(socket.create_connection, ("127.0.0.1", port), 30)
        half.sendall(b"POST /a/x HTTP/1.1\r\nHost: x\r\nContent-Length: 9\r\n\r\nx")
        assert await ask(port) == 404
        task.cancel()
    assert page.port is None
    idle.close()
    half.close()
    with socket.create_server(("127.0.0.1", port)):
        pass


async def test_signals_stay_with_the_service(serve: Serve) -> None:
    """The web server usually takes them over; then `systemctl stop` would end the page and not the watch."""
    caught = asyncio.Event()
    loop = asyncio.get_running_loop()
    loop.add_signal_handler(signal.SIGTERM, caught.set)
    before = signal.getsignal(signal.SIGTERM), signal.getsignal(signal.SIGINT)
    page = Page(options(0), serve().workshop, KEY, Clock(), lambda sentence: None)
    try:
        async with asyncio.TaskGroup() as group:
            task = group.create_task(page.run())
            await asyncio.sleep(0)
            assert page.port is not None
            assert await ask(page.port) == 404
            assert before == (signal.getsignal(signal.SIGTERM), signal.getsignal(signal.SIGINT))
            os.kill(os.getpid(), signal.SIGTERM)
            await caught.wait()
            assert await ask(page.port) == 404, "the page goes on until it is cancelled"
            task.cancel()
        assert before == (signal.getsignal(signal.SIGTERM), signal.getsignal(signal.SIGINT))
    finally:
        loop.remove_signal_handler(signal.SIGTERM)


def test_the_web_server_says_nothing_past_the_service_s_log(serve: Serve, capfd: pytest.CaptureFixture[str]) -> None:
    page = serve()
    with socket.create_connection(("127.0.0.1", page.port), timeout=30) as asking:
        asking.sendall(b"no http\r\n\r\n")
        assert asking.recv(100)
    said = capfd.readouterr()
    assert "Invalid HTTP request" not in said.err + said.out
    assert logging.getLogger("uvicorn.error").hasHandlers()


def test_who_needs_the_options_or_a_link_alone_loads_no_web_server() -> None:
    """Settings and messages use them also where there is no page; the server takes some 7 MB."""
    code = (
        "import sys, watchdog.page.options, watchdog.page.links, watchdog.page.key, watchdog.page.deeds;"
        "print(sorted({'uvicorn', 'starlette', 'jinja2', 'h11'} & set(sys.modules)))"
    )
    folder = Path(__file__).parents[2]
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=folder)
    assert done.stdout == "[]\n"
