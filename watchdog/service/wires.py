"""A machine's source with its recorder, made from the settings and tied to the machine's worker."""

from typing import Any, Protocol

import structlog

from watchdog.clock import Clock
from watchdog.core.cooling import COMMANDS
from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction
from watchdog.dialect.queries import permitted
from watchdog.service.health import Health
from watchdog.service.watching import Watching
from watchdog.settings.fill import log_of, recorder_of, serial_of
from watchdog.settings.model import Machine
from watchdog.settings.places import Kept
from watchdog.sources.hearing import host_resumed
from watchdog.sources.loop_lag import LoopLag
from watchdog.sources.recorder import Recorder
from watchdog.sources.serial_port import SerialSource
from watchdog.sources.topic_lines import Subscribe, TopicSource
from watchdog.sources.traffic_log import LogSource


class _Runs(Protocol):
    async def run(self) -> None:
        """For ever."""


class Wire:
    """One machine's line into the service."""

    def __init__(
        self,
        name: str,
        machine: Machine,
        kept: Kept,
        clock: Clock,
        worker: Watching,
        health: Health,
        lag: LoopLag,
        not_before: float,
        subscribe: Subscribe | None = None,
    ) -> None:
        """`not_before`: elapsed of the last moment that the stored world knows; lines of a log are never dated before it.
        `subscribe`: how a topic is listened to; None where there is no broker."""
        self._name = name
        self._worker = worker
        self._health = health
        self._lag = lag
        self._log = structlog.get_logger().bind(machine=name)
        self._recorder: Recorder | None = None
        if machine.record:
            self._recorder = Recorder(kept.recordings, name, recorder_of(machine), say=self._say)
        self._serial: SerialSource | None = None
        self._follows: LogSource | None = None
        self._topic: TopicSource | None = None
        self._source: _Runs
        if machine.source == "serial":
            self._serial = SerialSource(
                serial_of(machine), clock, self.hear, permitted=self._may_send, say=self._say, lag=lag
            )
            worker.asks_through(self._serial)
            self._source = self._serial
        elif machine.topic is not None and subscribe is not None:
            self._topic = TopicSource(machine.topic, clock, self.hear, subscribe, not_before=not_before, say=self._say)
            self._source = self._topic
        else:
            resume = worker.mark.place if worker.mark is not None else None
            self._follows = LogSource(log_of(machine), clock, self.hear, resume, not_before=not_before, say=self._say)
            worker.reads_from(self._follows)
            self._source = self._follows

    async def run(self) -> None:
        """Follow the machine for ever."""
        if self._recorder is not None:
            self._recorder.start()
        await self._source.run()

    def hear(self, at: Moment, direction: Direction, text: str) -> None:
        """One line, from the source."""
        if self._recorder is not None:
            self._recorder.hear(at, direction, text)
        self._worker.hear(at, direction, text)

    def host_resumed(self, at: Moment, seconds: float) -> None:
        """Put into the recording that this computer had slept or hung."""
        if self._recorder is not None:
            self._recorder.hear(at, Direction.REMARK, host_resumed(seconds))

    @property
    def caught_up(self) -> bool:
        """Everything that was written before the start has been heard."""
        return self._follows is None or self._follows.caught_up.is_set()

    async def catch_up(self) -> None:
        """Wait until `caught_up`."""
        if self._follows is not None:
            await self._follows.caught_up.wait()

    def look(self) -> None:
        """Tell the watch's health what keeps this wire from its work."""
        wrong = [] if self._recorder is None else [self._recorder.trouble]
        self._health.tell(f"source {self._name}", tuple(sentence for sentence in wrong if sentence))

    def close(self) -> None:
        """Write what the recorder still holds."""
        if self._recorder is not None and not self._recorder.stop():
            self._log.warning("the disk did not take the end of the recording")

    def facts(self) -> dict[str, Any]:
        """What `status` tells of the source."""
        facts: dict[str, Any] = {"longest_unread_s": round(self._lag.longest, 3), "dropped": self._worker.dropped}
        if self._serial is not None:
            facts |= {"port": self._serial.port, "trouble": self._serial.trouble, "refused": self._serial.refused}
        if self._follows is not None:
            facts |= {"log": str(self._follows.options.path), "log_lines_unparsed": self._follows.unparsed}
        if self._topic is not None:
            facts |= {"topic": self._topic.topic, "trouble": self._topic.trouble, "ignored": self._topic.ignored}
        if self._recorder is not None:
            facts |= {"recorded": self._recorder.written, "not_recorded": self._recorder.dropped}
        return facts

    def _may_send(self, text: str) -> bool:
        return permitted(text, self._worker.idle) or (text in COMMANDS and self._worker.may_cool)

    def _say(self, sentence: str) -> None:
        self._log.warning(sentence)
