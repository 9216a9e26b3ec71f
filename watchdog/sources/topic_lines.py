"""A machine's traffic as messages on a topic of the network's broker: somebody else stands at the machine's wire.

A message holds a line or several, each in this project's recording format or bare as the machine sent it. Whoever subscribes
for us tells when the subscription stands; a break of it is a break of the link. The same line twice changes nothing that
matters.
"""

import asyncio
from collections.abc import Callable

import structlog

from watchdog.clock import Clock
from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction, decode, read_line
from watchdog.sources.complaints import Complaints
from watchdog.sources.framer import LIMIT
from watchdog.sources.hearing import LINK_OPENED, WATCH_STARTED, WATCH_STOPPED, Hear, link_closed

LATE = 60.0
"""s that a message may be on its way; one that seems to be later is from a clock that was set. Project's choice"""
_ROOM = 64  # characters of time and direction before a line in the recording format

Subscribe = Callable[[str, Callable[[str, bytes, bool], None], Callable[[str | None], None]], None]
"""(topic, takes (topic, payload, retained), takes None once the subscription stands, else why it does not)"""


class TopicSource:
    """Listens to one topic for ever. Nothing is ever sent.

    Lines that carry a time keep their distance from each other, also when the network holds them back and hands them over all
    at once; their clock's own reading is not believed.
    """

    def __init__(
        self,
        topic: str,
        clock: Clock,
        hear: Hear,
        subscribe: Subscribe,
        *,
        not_before: float = 0.0,
        say: Callable[[str], None] | None = None,
    ) -> None:
        """`subscribe` is called at once. `not_before`: elapsed before which no line is dated."""
        self.topic = topic
        self.ignored = 0
        """messages that were kept by the broker, and lines that are too long for any machine"""
        self._clock = clock
        self._hear = hear
        self._complaints = Complaints(say or structlog.get_logger("sources").warning)
        self._open: bool | None = None
        self._elapsed = not_before
        self._ahead: float | None = None  # s that must be added to a line's own time; by the quickest message so far
        subscribe(topic, self._message, self._stands)

    @property
    def is_open(self) -> bool:
        """The subscription stands."""
        return self._open is True

    @property
    def trouble(self) -> str | None:
        """Why nothing is heard, as a sentence."""
        return self._complaints.trouble

    async def run(self) -> None:
        """Until cancelled; the work is done as messages come."""
        self._remark(WATCH_STARTED)
        try:
            await asyncio.Event().wait()
        finally:
            if self._open:
                self._remark(link_closed(""))
            self._remark(WATCH_STOPPED)

    def _message(self, topic: str, payload: bytes, retained: bool) -> None:
        if retained:  # said once upon a time
            self.ignored += 1
            return
        for raw in payload.split(b"\n"):
            text = decode(raw.removesuffix(b"\r"))
            if len(text) > LIMIT + _ROOM:
                self.ignored += 1
            elif text:
                self._line(text)

    def _line(self, text: str) -> None:
        told = read_line(text)
        if told is None:
            self._hear(self._now(), Direction.RECEIVED, text)
        else:
            self._hear(self._moment(told.stamp), told.direction, told.text)

    def _moment(self, stamp: float) -> Moment:
        now = self._clock.now()
        ahead = now.elapsed - stamp
        if self._ahead is None or ahead < self._ahead or ahead > self._ahead + LATE:
            self._ahead = ahead
        self._elapsed = min(now.elapsed, max(self._elapsed, stamp + self._ahead))
        return Moment(self._elapsed, now.stamp - (now.elapsed - self._elapsed))

    def _now(self) -> Moment:
        now = self._clock.now()
        self._elapsed = max(self._elapsed, now.elapsed)
        return now

    def _remark(self, remark: str) -> None:
        self._hear(self._now(), Direction.REMARK, remark)

    def _stands(self, why: str | None) -> None:
        if why is None:
            self._complaints.over(self._clock.now().elapsed)
        else:
            self._complaints.about(why, self._clock.now().elapsed)
        if self._open is not (why is None):
            self._open = why is None
            self._remark(LINK_OPENED if why is None else link_closed(why))
