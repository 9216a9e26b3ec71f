"""The page's server, as one task of the service. Loads the web server: import it only where the page is on."""

import asyncio
import logging
import os
import socket
from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager

import uvicorn

from watchdog.clock import Clock
from watchdog.page.app import EVERYBODY_ALIKE, App
from watchdog.page.connection import PageConfig
from watchdog.page.deeds import Deeds
from watchdog.page.links import Key
from watchdog.page.options import Options
from watchdog.page.words import ENGLISH, Words

# The web server's own complaints would go to stderr, past the service's log; the page counts and tells them itself.
_SILENT = logging.getLogger("uvicorn")
_SILENT.addHandler(logging.NullHandler())
_SILENT.propagate = False


class _Server(uvicorn.Server):
    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Signals are the service's."""
        yield

    async def main_loop(self) -> None:
        """Wait to be cancelled. The server's own loop wakes ten times a second, to date answers and to look for a signal."""
        await self.on_tick(0)
        await asyncio.Event().wait()


class Page:
    """Listens until cancelled. Losing or not getting the port is news, not an end.

    `report` gets a sentence for the operator while it cannot listen, None once it can; only when that changes.
    """

    def __init__(
        self,
        options: Options,
        deeds: Deeds,
        key: Key,
        clock: Clock,
        report: Callable[[str | None], None],
        *,
        words: Words = ENGLISH,
        languages: Mapping[str, str] = EVERYBODY_ALIKE,
    ) -> None:
        """`languages`: of each person to whom links are sent ('en', 'pt'); `words` serve all others, and the status page."""
        self._options = options
        self._clock = clock
        self._report = report
        self._app = App(options, deeds, key, clock, words, languages)
        self.port: int | None = None
        """where it listens; None while it does not"""

    @property
    def counts(self) -> Counter[str]:
        """How often each thing has come of a request, by its name: 'shown', 'done', 'forged' …"""
        return self._app.counts

    async def run(self) -> None:
        """Serve until cancelled."""
        pause, told = self._options.first_pause, None
        while True:
            try:
                listener = _listener(self._options)
            except OSError as error:
                sentence = _sentence(self._options, error)
                if sentence != told:
                    self._report(sentence)
                told = sentence
                await self._clock.sleep(pause)
                pause = min(2 * pause, self._options.longest_pause)
                continue
            if told is not None:
                self._report(None)
            pause, told = self._options.first_pause, None
            await self._serve(listener)

    async def _serve(self, listener: socket.socket) -> None:
        with listener:
            server = _Server(PageConfig(self._app, self._options))
            try:
                self.port = listener.getsockname()[1]
                await server.serve(sockets=[listener])
            finally:
                self.port = None
                if server.started:  # a second at the most, for what is being answered
                    await server.shutdown(sockets=[listener])
                for connection in list(server.server_state.connections):  # whoever still holds one open is left behind
                    connection.transport.abort()
                await asyncio.sleep(0)  # the loop closes an aborted connection in its next turn


def _listener(options: Options) -> socket.socket:
    """Raises OSError."""
    family = socket.AF_INET6 if ":" in options.host else socket.AF_INET
    both = options.host == "::" and socket.has_dualstack_ipv6()
    return socket.create_server((options.host, options.port), family=family, backlog=64, dualstack_ipv6=both)


def _sentence(options: Options, error: OSError) -> str:
    host = f"[{options.host}]" if ":" in options.host else options.host
    why = os.strerror(error.errno) if error.errno and error.errno > 0 else str(error)
    remedy = "Free that port, or set page.listen to another; it is tried again by itself"
    return f"the page cannot listen on {host}:{options.port} ({why}): links in messages do not open. {remedy}"
