"""A GET to a dead-man's switch for as long as the watch is well, so that a dead watch is noticed by something else.

The switch, any service or a computer of the school's own, tells somebody when it has not been asked for a while. So what
matters here is silence: when the work stands still nothing is sent, however well this task is. The address is a secret and
is never told: only its host is.
"""

import asyncio
import http.client
import ssl
import threading
import urllib.error
import urllib.request
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO
from urllib.parse import urlsplit

from watchdog.clock import Clock
from watchdog.web import BadRoot, opener

FORM = "Write it on one line: https://… or http://…"
IN_A_ROW = 3  # failures until it is said: one is a hiccup of the network; common practice, no source
_WELL = range(200, 300)


@dataclass(frozen=True, slots=True)
class Options:
    """Which switch, and how it is reached."""

    url: str = field(repr=False)
    """http or https; a secret"""
    every: float = 300.0
    """s of told time between two"""
    limit: float = 20.0
    """real s for one"""
    proxy: str | None = field(default=None, repr=False)
    """address of an HTTP proxy; None: as the environment says"""
    root: Path | None = None
    """PEM file of a root certificate that is trusted beside the system's"""


class Heartbeat:
    """Beats while `alive()`. `report` gets a sentence once three in a row have failed, and None when it works again."""

    def __init__(
        self, options: Options, clock: Clock, alive: Callable[[], bool], report: Callable[[str | None], None]
    ) -> None:
        self._options = options
        self._clock = clock
        self._alive = alive
        self._report = report
        self._failed = 0
        self._asking = False  # a thread is at work, perhaps one that was left behind
        self.beats = 0
        """taken by the switch since the start"""

    async def run(self) -> None:
        """Until cancelled; the first at once."""
        while True:
            if self._alive():
                await self.beat()
            await self._clock.sleep(self._options.every)

    async def beat(self) -> None:
        """One request, whatever becomes of it."""
        fault = await self._ask()
        if fault is None:
            self.beats += 1
            if self._failed >= IN_A_ROW:
                self._report(None)
            self._failed = 0
            return
        self._failed += 1
        if self._failed >= IN_A_ROW:
            self._report(
                f"the heartbeat does not reach {host_of(self._options.url)} ({fault}), so nobody would notice a dead watch. "
                "Look at [heartbeat] and [network] in the settings, or ask the network's administrator"
            )

    async def _ask(self) -> str | None:
        """Why it failed; None when the switch took it.

        In a thread of its own that may be left behind: a server that trickles, or a name server that is silent, would hold up
        a stop of the watch otherwise. While one is left behind no other is started.
        """
        if self._asking:
            return "no answer in time"
        loop = asyncio.get_running_loop()
        told: asyncio.Future[str | None] = loop.create_future()

        def settle(fault: str | None) -> None:
            self._asking = False
            if not told.done():
                told.set_result(fault)

        def work() -> None:
            fault = ask(self._options)
            with suppress(RuntimeError):  # the loop has ended meanwhile
                loop.call_soon_threadsafe(settle, fault)

        self._asking = True
        threading.Thread(target=work, name="heartbeat", daemon=True).start()
        try:
            async with asyncio.timeout(self._options.limit):
                return await told
        except TimeoutError:
            return "no answer in time"


def ask(options: Options) -> str | None:
    """One GET. Why it failed, in words without the address; None: the switch took it. Blocks."""
    try:
        request = urllib.request.Request(options.url, headers={"User-Agent": "emberward"})
        with opener(options.proxy, options.root, _Redirections()).open(request, timeout=options.limit) as answer:
            if answer.status not in _WELL:
                return f"HTTP {answer.status}"
            return None
    except urllib.error.HTTPError as refused:
        refused.close()
        return f"HTTP {refused.code}"
    except urllib.error.URLError as wrong:
        return _why(wrong.reason)
    except (OSError, ValueError, http.client.HTTPException) as wrong:
        return _why(wrong)


def is_address(text: str) -> bool:
    """Whether `text` can be asked at all."""
    try:
        parts = urlsplit(text)
        return parts.scheme.lower() in {"http", "https"} and bool(parts.hostname) and not any(map(str.isspace, text))
    except ValueError:
        return False


def host_of(url: str) -> str:
    """All of the address that may be told."""
    try:
        return urlsplit(url).hostname or "its address"
    except ValueError:
        return "its address"


def _why(reason: object) -> str:
    """In our own words: the library's can hold the address."""
    if isinstance(reason, ssl.SSLCertVerificationError):
        return f"its certificate was not accepted: {reason.verify_message or 'it does not verify'}"
    if isinstance(reason, ssl.SSLError):
        return "no encrypted connection came about"
    if isinstance(reason, TimeoutError):
        return "no answer in time"
    if isinstance(reason, ConnectionRefusedError):
        return "connection refused"
    if isinstance(reason, _SentOn):
        return "it sends on to another host: a sign-in page of the network, or a wrong address"
    if isinstance(reason, BadRoot):
        return "the network's root certificate cannot be read"
    if isinstance(reason, OSError):
        if str(reason).startswith("Tunnel connection failed: 407"):
            return "the network's proxy wants a name and a password"
        return reason.strerror or "no connection"
    return "it answered with something that is no HTTP"


class _SentOn(OSError):
    """A redirection to another host: whoever answered there is not the switch."""


class _Redirections(urllib.request.HTTPRedirectHandler):
    """A switch that moved house has to be set anew; only its own host may send on."""

    max_repeats = 2
    max_redirections = 3

    def redirect_request(
        self,
        req: urllib.request.Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: http.client.HTTPMessage,
        newurl: str,
    ) -> urllib.request.Request | None:
        asked, there = urlsplit(req.full_url), urlsplit(newurl)
        if there.hostname != asked.hostname or (asked.scheme == "https" and there.scheme != "https"):
            fp.close()
            raise _SentOn
        return super().redirect_request(req, fp, code, msg, headers, newurl)
