"""One connection to the page, kept short: the web server by itself waits without end for a request that never comes whole."""

import asyncio
from http import HTTPStatus
from typing import Any

import h11
from uvicorn import Config
from uvicorn.protocols.http.h11_impl import H11Protocol

from watchdog.page.app import App, Refusal
from watchdog.page.options import Options
from watchdog.page.rationing import group

MOST_HEAD = 8192  # bytes of a request's first line and headers


class PageConfig(Config):
    """How the web server runs inside the service, which has its own log, signals and tasks."""

    def __init__(self, app: App, options: Options) -> None:
        self.page = app
        self.options = options
        super().__init__(
            app,
            http=Connection,
            interface="asgi3",
            ws="none",
            lifespan="off",
            log_config=None,
            access_log=False,
            proxy_headers=False,  # anybody can write one
            server_header=False,
            date_header=False,  # the page dates its answers by the service's clock
            timeout_graceful_shutdown=1,
            h11_max_incomplete_event_size=MOST_HEAD,
        )


class Connection(H11Protocol):
    """Refuses what is too much, ends what stays too long, and answers in our words to what is no HTTP."""

    config: PageConfig

    def __init__(self, *args: Any, **named: Any) -> None:
        super().__init__(*args, **named)
        self._ends: list[asyncio.TimerHandle] = []

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Somebody has come."""
        super().connection_made(transport)
        options = self.config.options
        asker = _asker(self)
        own = sum(isinstance(other, Connection) and _asker(other) == asker for other in self.connections)
        if len(self.connections) > options.connections or own > options.connections_each:
            self.config.page.counts["crowded-out"] += 1
            transport.abort()
            return
        self._ends = [
            self.loop.call_later(options.connection_lasts, self.shutdown),  # once what is being answered is answered
            self.loop.call_later(2 * options.connection_lasts, transport.abort),
        ]

    def connection_lost(self, exc: Exception | None) -> None:
        """Somebody has gone."""
        for end in self._ends:
            end.cancel()
        super().connection_lost(exc)

    def send_400_response(self, msg: str) -> None:
        """To what is no HTTP, or has too long a head."""
        if self.conn.our_state in (h11.IDLE, h11.SEND_RESPONSE):
            page = self.config.page.refused(Refusal("malformed"), _asker(self))
            headers = [*page.raw_headers, (b"connection", b"close")]
            reason = HTTPStatus(page.status_code).phrase
            self._write(h11.Response(status_code=page.status_code, headers=headers, reason=reason))
            self._write(h11.Data(data=bytes(page.body)))
            self._write(h11.EndOfMessage())
        self.transport.close()

    def _write(self, event: h11.Event) -> None:
        self.transport.write(self.conn.send(event) or b"")


def _asker(connection: H11Protocol) -> str:
    return group(connection.client[0] if connection.client else "")
