"""What the watch says on the network's broker, and what it hears there: states, alarms, events; sensors, people, traffic.

worker ──effects, once recorded──▶ narrate ──▶ event, alarm topic
worker ──snapshot, each second──▶ state, when it changed and every minute
sensor's topic ──▶ Measured          acknowledge/… ──▶ Acknowledge
"""

import asyncio
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import Any, NamedTuple

import structlog

from watchdog.broker import payloads
from watchdog.broker.broker import Broker
from watchdog.broker.options import Options
from watchdog.broker.waiting import Kind
from watchdog.clock import Clock
from watchdog.core.alarms.standing import REST
from watchdog.core.effects import AlarmChanged, Effect
from watchdog.core.events import Acknowledge, Measured
from watchdog.core.payload import read_payload
from watchdog.core.sensors import SensorSpec
from watchdog.service.health import Health
from watchdog.service.watching import Watching

STATE_EVERY = 60.0  # s between two states of a machine that does not change: a reader judges by it whether we are there
LOOK_EVERY = 1.0  # s between two looks: a state goes out once a second at the most
BEHIND = (
    5000  # events that wait at a worker: beyond it a sensor's values are let go, and those of other machines are not
)
ASKED = 100  # acknowledgements that may wait; a person makes one


class _Asked(NamedTuple):
    machine: str
    alarm: str
    by: str


class OnNetwork:
    """The service on one broker."""

    def __init__(
        self,
        options: Options,
        workers: Mapping[str, Watching],
        itself: str,
        topics: Mapping[str, str],
        clock: Clock,
        health: Health,
    ) -> None:
        """`workers` may still be filled until `run`. `itself`: the watch's own, which has alarms and no state. `topics`: of
        each sensor, by its name."""
        self.counts: Counter[str] = Counter()
        """what was heard and not taken: sensor_unread, sensor_retained, acknowledge_unread, acknowledge_retained, …"""
        self._workers = workers
        self._itself = itself
        self._topics = topics
        self._clock = clock
        self._log = structlog.get_logger()
        self._broker = Broker(options, clock, lambda why: health.tell("mqtt", () if why is None else (why,)))
        self._states: dict[str, tuple[Mapping[str, Any], float]] = {}
        self._asked: asyncio.Queue[_Asked] = asyncio.Queue(ASKED)

    def subscribe(
        self, topic: str, heard: Callable[[str, bytes, bool], None], stands: Callable[[str | None], None]
    ) -> None:
        """For a source of traffic."""
        self._broker.subscribe(topic, heard, stands)

    def narrate(self, machine: str, effects: Sequence[Effect]) -> None:
        """Say what happened to `machine`, now that it is recorded."""
        topics, alarms = self._broker.topics, dict.fromkeys(e.alarm for e in effects if isinstance(e, AlarmChanged))
        for effect in effects:
            told = payloads.event(machine, effect)
            if told is not None:
                kind = Kind.ALARM if isinstance(effect, AlarmChanged) else Kind.NEWS
                self._broker.publish(topics.event(machine), payloads.encode(told), False, kind)
        for alarm in alarms:
            self._say_alarm(machine, alarm)

    async def run(self) -> None:
        """For ever."""
        self._listen()
        for machine, worker in self._workers.items():
            for alarm in worker.watch.table:  # the broker may keep one that ended, or was forgotten, while we were away
                self._say_alarm(machine, alarm)
        async with asyncio.TaskGroup() as rooms:
            rooms.create_task(self._broker.run(), name="mqtt broker")
            rooms.create_task(self._say_states(), name="mqtt states")
            rooms.create_task(self._acknowledge(), name="mqtt acknowledge")

    def facts(self) -> dict[str, Any]:
        """For `status`."""
        return {**self._broker.facts(), **self.counts}

    @property
    def waiting(self) -> int:
        """Messages that are still to be said."""
        return self._broker.waiting

    @property
    def refused(self) -> int:
        """Messages of others that were not taken."""
        return self.counts.total() + self._broker.counts["too_large"] + self._broker.counts["flooded"]

    def _listen(self) -> None:
        self._broker.subscribe(self._broker.topics.acknowledgements, self._people)
        for machine, worker in self._workers.items():
            for spec in worker.watch.sensors:
                if spec.name in self._topics:
                    self._broker.subscribe(self._topics[spec.name], partial(self._sensor, machine, spec))

    def _say_alarm(self, machine: str, alarm: str) -> None:
        worker = self._workers[machine]
        row = worker.watch.table.get(alarm)
        if row is not None:
            told = payloads.alarm(machine, row, worker.world.book.alarms.get(alarm, REST), self._clock.now())
            self._broker.publish(self._broker.topics.alarm(machine, alarm), payloads.encode(told), True, Kind.ALARM)

    async def _say_states(self) -> None:
        while True:
            for nth, (machine, worker) in enumerate(self._workers.items()):
                if machine != self._itself:
                    self._say_state(machine, worker)
                if nth % 10 == 9:
                    await asyncio.sleep(0)
            self._broker.look()
            await self._clock.sleep(LOOK_EVERY)

    def _say_state(self, machine: str, worker: Watching) -> None:
        now = self._clock.now()
        told = payloads.state(machine, worker.seen(), dict(worker.world.conditions), now)
        before, at = self._states.get(machine, (None, 0.0))
        if now.elapsed - at < STATE_EVERY and payloads.same(before, told):
            return
        self._states[machine] = told, now.elapsed
        self._broker.publish(self._broker.topics.state(machine), payloads.encode(told), True, Kind.STATE)

    def _sensor(self, machine: str, spec: SensorSpec, topic: str, payload: bytes, retained: bool) -> None:
        """What holds no value changes nothing: a sensor that goes on like that goes stale, and that is told."""
        if retained:  # of unknown age: a dead sensor's last word must not count as new
            self.counts["sensor_retained"] += 1
            return
        value = read_payload(spec, payload)
        if value is None:
            self.counts["sensor_unread"] += 1
            return
        worker = self._workers[machine]
        if worker.waiting >= BEHIND:
            self.counts["sensor_flooded"] += 1
            return
        worker.post(Measured(self._clock.now(), spec.name, value))

    def _people(self, topic: str, payload: bytes, retained: bool) -> None:
        meant = self._broker.topics.acknowledged(topic)
        by = payloads.acknowledged_by(payload)
        if retained:  # it would acknowledge every later alarm of that name as well, at each start
            self.counts["acknowledge_retained"] += 1
        elif meant is None or by is None:
            self.counts["acknowledge_unread"] += 1
        elif meant[0] not in self._workers or meant[1] not in self._workers[meant[0]].watch.table:
            self.counts["acknowledge_unknown"] += 1
        elif self._asked.full():
            self.counts["acknowledge_flooded"] += 1
        else:
            self._asked.put_nowait(_Asked(*meant, by))

    async def _acknowledge(self) -> None:
        while True:
            asked = await self._asked.get()
            event = Acknowledge(self._clock.now(), asked.alarm, asked.by, "mqtt")
            if not await self._workers[asked.machine].ask(event):
                self.counts["acknowledge_idle"] += 1
                self._log.info("nothing to acknowledge", machine=asked.machine, alarm=asked.alarm, by=asked.by)
