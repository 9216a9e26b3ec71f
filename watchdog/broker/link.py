"""One connection to the broker, by aiomqtt: what its own client leaves open is closed here.

It forgets the reason code of a PUBACK, so a refused message would count as said. Its own time limit is `asyncio.wait_for`,
which in Python 3.11 can swallow a cancellation; so it waits without one, and limits are set around it. A connection that fails
half-way is left open by it.
"""

import asyncio
import logging
import math
import ssl
from collections import Counter
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any, cast

import aiomqtt
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode

from watchdog.broker.options import Options, Tls
from watchdog.broker.payloads import OFFLINE

LARGEST = 64 * 1024
"""bytes of a message that are taken; a sensor sends some hundred, a line of traffic less than 300. Project's choice"""
PACKET = 1024 * 1024  # bytes of a packet that the broker may send at all; only MQTT 5 can say so
ARRIVED = 500  # messages that may have come and wait for us: 32 MB at the very worst
ANSWER = 10.0
"""s that the broker has for an answer; the serial line beside us is not held up by it. Project's choice"""
CLOSING = 3.0  # s for a good-bye
_UNHEARD = logging.getLogger("watchdog.broker.library")
_UNHEARD.setLevel(logging.CRITICAL)  # it complains of each lost connection, in other words than ours
REFUSED = 0x80  # reason codes from here on are refusals (MQTT 5.0, 2.4)


class Unreadable(OSError):
    """A certificate or key cannot be used. The message names the file."""


class Inbox(asyncio.Queue[aiomqtt.Message]):
    """What has come from the broker. What is too large, or comes faster than it can be taken, is counted and let go."""

    def __init__(self, counts: "Counter[str]") -> None:
        super().__init__(ARRIVED)
        self._counts = counts

    def put_nowait(self, item: aiomqtt.Message) -> None:
        """Take `item`, if there is room for it."""
        if isinstance(item.payload, bytes) and len(item.payload) > LARGEST:
            self._counts["too_large"] += 1
        elif self.full():
            self._counts["flooded"] += 1
        else:
            super().put_nowait(item)


class Link(aiomqtt.Client):
    """aiomqtt's client, with what it does not tell."""

    answer: ReasonCode | None = None
    """of the last message that was said; they are said one at a time"""

    def _on_publish(
        self, client: Any, userdata: Any, mid: int, reason_code: ReasonCode, properties: Properties
    ) -> None:
        self.answer = reason_code
        super()._on_publish(client, userdata, mid, reason_code, properties)

    def _on_socket_register_write(self, client: Any, userdata: Any, sock: Any) -> None:
        """The library asks for a writer later, by number: by then the socket may be closed, and the number another's."""

        def register() -> None:
            if client.socket() is sock and sock.fileno() >= 0:
                self._loop.add_writer(sock.fileno(), write)

        def write() -> None:
            try:
                client.loop_write()
            except Exception as fault:
                if not self._disconnected.done():
                    self._disconnected.set_exception(fault)

        self._loop.call_soon_threadsafe(register)

    def abandon(self) -> None:
        """Let go of a connection that was never finished; why it went has been told, or no longer matters."""
        self._client.disconnect()
        if self._disconnected.done() and not self._disconnected.cancelled():
            self._disconnected.exception()


@asynccontextmanager
async def linked(options: Options, inbox: Inbox, availability: str) -> AsyncIterator[Link]:
    """A connection that stands. Raises aiomqtt.MqttError when it cannot be had, or has gone; Unreadable for certificates."""
    five = options.protocol == "5"
    properties = None
    if five:
        properties = Properties(PacketTypes.CONNECT)  # type: ignore[no-untyped-call]
        properties.MaximumPacketSize = PACKET
    link = Link(
        options.host,
        options.port,
        username=options.user,
        password=options.password,
        logger=_UNHEARD,
        identifier=options.client,
        queue_type=cast(Any, lambda maxsize: inbox),
        protocol=aiomqtt.ProtocolVersion.V5 if five else aiomqtt.ProtocolVersion.V311,
        will=aiomqtt.Will(availability, OFFLINE, qos=1, retain=True),
        timeout=ANSWER,
        keepalive=options.keep_alive,
        properties=properties,
        tls_context=None if options.tls is None else context(options.tls),
    )
    task = asyncio.current_task()
    before = task.cancelling() if task is not None else 0
    try:
        async with link:
            if task is not None and task.cancelling() > before:  # it came while the library's own limit ran
                raise asyncio.CancelledError
            link.timeout = math.inf
            try:
                yield link
            finally:
                link.timeout = CLOSING
    except BaseException:
        link.abandon()
        raise


def context(tls: Tls) -> ssl.SSLContext:
    """What a connection by `tls` trusts and shows. Raises Unreadable."""
    for file in (tls.root_certificate, tls.certificate, tls.key):
        if file is not None:
            _readable(file)
    try:
        made = ssl.create_default_context(cafile=tls.root_certificate)
    except (OSError, ValueError):  # ssl.SSLError is an OSError
        raise Unreadable(f"{tls.root_certificate} holds no certificate in PEM") from None
    if tls.certificate is not None:
        try:
            made.load_cert_chain(tls.certificate, tls.key, password=_nobody_types)
        except (OSError, ValueError):
            raise Unreadable(
                f"{tls.certificate} and its key do not fit together, or are no PEM without a password"
            ) from None
    return made


def _nobody_types() -> str:
    raise ValueError("the key has a password")


def _readable(file: Path) -> None:
    try:
        with file.open("rb"):
            pass
    except OSError as wrong:
        raise Unreadable(f"{file} cannot be read: {wrong.strerror}") from None
