"""The broker: what is put in is said there, once or more, for as long as it matters; what is said there is heard.

On each connection: subscribe, say 'online', say everything retained anew, then what has waited. Going in good order says what
still waits, and 'offline'; going otherwise lets the broker say 'offline' for us (Last Will).

The session is not kept by the broker while we are away (a clean start): what it would hand over later, a sensor's value or a
line of traffic, would be taken for new. Who acknowledged meanwhile sees by the alarm's own topic that it was not taken.
"""

import asyncio
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from typing import Any, NamedTuple, cast

import aiomqtt
import structlog
from paho.mqtt.reasoncodes import ReasonCode

from watchdog.broker import remedies
from watchdog.broker.link import ANSWER, CLOSING, REFUSED, Inbox, Link, linked
from watchdog.broker.options import Options
from watchdog.broker.payloads import OFFLINE, ONLINE
from watchdog.broker.topics import Topics
from watchdog.broker.troubles import Troubles
from watchdog.broker.waiting import Kind, Said, Waiting
from watchdog.clock import Clock

FIRST_PAUSE, LONGEST_PAUSE = 1.0, 60.0  # s between two tries; doubled
STANDS = (
    10.0  # s that a connection stands before its trouble is over: two services of one name push each other off at once
)
AT_ONCE = 100  # subscriptions in one packet, and messages taken before the loop is given back

Heard = Callable[[str, bytes, bool], None]
"""(topic, payload, retained). Must be quick, and take anything at all without raising: the network is open to others"""
Stands = Callable[[str | None], None]
"""None: the subscription stands from now on; else a sentence why it does not"""


class _Subscription(NamedTuple):
    topic: str
    heard: Heard
    stands: Stands


class Broker:
    """One broker. Everything is called from the event loop's own thread; nothing waits but `run`."""

    def __init__(
        self,
        options: Options,
        clock: Clock,
        report: Callable[[str | None], None],
        say: Callable[[str], None] | None = None,
    ) -> None:
        """`report` takes what has been wrong for `options.impaired_after` s, and None when nothing is; `say` (by default the
        service's log) everything at once."""
        self.options = options
        self.topics = Topics(options.base)
        self.counts: Counter[str] = Counter()
        """said, refused, heard, too_large, flooded, unasked, connections"""
        self.connected = False
        self._clock = clock
        self._troubles = Troubles(clock, options.impaired_after, report, say or structlog.get_logger().warning)
        self._waiting = Waiting(options.room)
        self._wake = asyncio.Event()
        self._subscriptions: dict[str, list[_Subscription]] = {}
        self._filters: list[str] = []  # of these, what is no plain topic
        self._stands_since = 0.0
        self._leaving = False
        self._refused: dict[str, str] = {}

    def publish(self, topic: str, payload: bytes, retain: bool, kind: Kind) -> None:
        """Have `payload` said on `topic`. Never waits; `waiting` tells what goes first when there is no room."""
        self._waiting.put(Said(topic, payload, retain, kind))
        self._wake.set()

    def subscribe(self, topic: str, heard: Heard, stands: Stands = lambda why: None) -> None:
        """Hear what is said on `topic`, which may hold + and #. To be called before `run`."""
        self._subscriptions.setdefault(topic, []).append(_Subscription(topic, heard, stands))
        if ("+" in topic or "#" in topic) and topic not in self._filters:
            self._filters.append(topic)

    @property
    def waiting(self) -> int:
        """Messages that are still to be said."""
        return len(self._waiting)

    def look(self) -> None:
        """Once a second or so: whether what is wrong has lasted too long, or is over."""
        if self.connected and self._clock.now().elapsed - self._stands_since >= STANDS:
            self._troubles.tell("the connection", None)
        self._troubles.look()

    def facts(self) -> dict[str, Any]:
        """For `status`."""
        return {
            "broker": self.options.place,
            "base": self.options.base,
            "connected": self.connected,
            "waiting": len(self._waiting),
            "dropped": {kind.value: count for kind, count in self._waiting.dropped.items()},
            "troubles": list(self._troubles.sentences),
            **self.counts,
        }

    async def run(self) -> None:
        """For ever. Cancelled, it says what still waits and 'offline', as far as that goes within seconds."""
        pause = FIRST_PAUSE
        while not self._leaving:
            began = self._clock.now().elapsed
            try:
                await self._session()
            except* (aiomqtt.MqttError, OSError) as gone:
                self._lost(remedies.why(_first(gone), self.options))
            if self._leaving:
                break  # an error of the last good-bye has taken the cancellation's place
            if self._clock.now().elapsed - began > 2 * pause:  # it stood for a while
                pause = FIRST_PAUSE
            await self._clock.sleep(pause * self.options.spread)
            pause = min(2 * pause, LONGEST_PAUSE)
        raise asyncio.CancelledError

    async def _session(self) -> None:
        inbox = Inbox(self.counts)
        async with linked(self.options, inbox, self.topics.availability) as link:
            try:
                await self._greet(link)
                async with asyncio.TaskGroup() as both:
                    both.create_task(self._hear(link, inbox), name="mqtt hear")
                    both.create_task(self._say(link), name="mqtt say")
            except asyncio.CancelledError:
                self._leaving = True
                with suppress(aiomqtt.MqttError, TimeoutError):
                    async with asyncio.timeout(CLOSING):
                        await self._say_all(link)
                with suppress(aiomqtt.MqttError, TimeoutError):
                    async with asyncio.timeout(CLOSING):
                        await link.publish(self.topics.availability, OFFLINE, qos=1, retain=True)
                raise
            finally:
                self.connected = False

    async def _greet(self, link: Link) -> None:
        topics = list(self._subscriptions)
        for start in range(0, len(topics), AT_ONCE):
            await self._subscribe(link, topics[start : start + AT_ONCE])
        await self._publish(link, Said(self.topics.availability, ONLINE, True, Kind.STATE))
        self.connected = True
        self.counts["connections"] += 1
        self._stands_since = self._clock.now().elapsed
        self._waiting.anew()

    async def _subscribe(self, link: Link, topics: list[str]) -> None:
        async with _answered():
            codes = cast(list[ReasonCode], await link.subscribe([(topic, 1) for topic in topics]))
        for topic, code in zip(topics, codes, strict=True):
            refused = remedies.subscribing_refused(self.options, topic, code) if code.value >= REFUSED else None
            self._troubles.tell(f"reading {topic}", refused)
            for one in self._subscriptions[topic]:
                one.stands(refused)

    async def _say(self, link: Link) -> None:
        while True:
            self._wake.clear()
            await self._say_all(link)
            await self._wake.wait()

    async def _say_all(self, link: Link) -> None:
        while (ticket := self._waiting.first()) is not None:
            await self._publish(link, ticket.said)
            self._waiting.done(ticket)

    async def _publish(self, link: Link, said: Said) -> None:
        link.answer = None
        async with _answered():
            await link.publish(said.topic, said.payload, qos=1, retain=said.retain)
        code = link.answer
        if code is not None and code.value >= REFUSED:
            self.counts["refused"] += 1
            self._refused[said.topic] = remedies.publishing_refused(self.options, said.topic, code)
        else:
            self.counts["said"] += 1
            if not self._refused:
                return
            self._refused.pop(said.topic, None)
        self._troubles.tell("publishing", next(iter(self._refused.values()), None))

    async def _hear(self, link: Link, inbox: Inbox) -> None:
        async for message in link.messages:
            self._take(message)
            for _ in range(AT_ONCE):
                if inbox.empty():
                    break
                self._take(inbox.get_nowait())

    def _take(self, message: aiomqtt.Message) -> None:
        payload = message.payload if isinstance(message.payload, bytes) else b""
        topic = str(message.topic)
        takers = list(self._subscriptions.get(topic, ()))
        for one in self._filters:
            if message.topic.matches(one):
                takers += self._subscriptions[one]
        self.counts["heard" if takers else "unasked"] += 1
        for taker in takers:
            taker.heard(topic, payload, bool(message.retain))

    def _lost(self, why: str) -> None:
        self._troubles.tell("the connection", why)
        for subscriptions in self._subscriptions.values():
            for one in subscriptions:
                one.stands(why)


class _answered:  # noqa: N801 - read as a phrase
    """The broker answers within its time, or the connection counts as gone."""

    def __init__(self) -> None:
        self._limit = asyncio.timeout(ANSWER)

    async def __aenter__(self) -> None:
        await self._limit.__aenter__()

    async def __aexit__(self, *error: Any) -> None:
        try:
            await self._limit.__aexit__(*error)
        except TimeoutError:
            raise aiomqtt.MqttError("the answer timed out") from None


def _first(group: "BaseExceptionGroup[Any]") -> BaseException:
    """The first plain error in `group`."""
    one: BaseException = group
    while isinstance(one, BaseExceptionGroup):
        one = one.exceptions[0]
    return one
