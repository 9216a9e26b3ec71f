"""A district of services on one broker: how many messages it carries, in steady running and when everything comes back at once.

    python -m tests.bench.district [--services 200] [--seconds 30] [--away 20]

Each simulated service is the real `Broker` with the real payloads, one machine whose state changes every second, and an alarm
with three transitions a minute; all of them live in one process, and a store that reads everything in another. The broker is
mosquitto as Debian has it, with its usual settings. The bad moment: it is killed, every service goes on for `--away` seconds,
with three alarm transitions for each, then it comes back knowing nothing.

The services' own process is the bottleneck on a small computer: in a district each has its own.
"""

import argparse
import asyncio
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import NamedTuple

import aiomqtt

from tests.bench.figures import computer
from tests.bench.footprint import memory, spent
from tests.conftest import Mosquitto
from watchdog.broker import payloads
from watchdog.broker.broker import Broker
from watchdog.broker.options import Options
from watchdog.broker.waiting import Kind
from watchdog.clock import Clock
from watchdog.core.alarms.standing import Phase, Standing
from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import AlarmChanged, Priority, Transition
from watchdog.core.events import Line, Tick
from watchdog.core.step import begin, look, step
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.settings import Settings
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine

MACHINE, ALARM = "doorway-1", "hot-idle"
LIFE = (Transition.RAISED, Transition.ACKNOWLEDGED, Transition.CLEARED)


class Sample(NamedTuple):
    """Counts at one moment."""

    at: float
    said: int
    broker: float
    """s of processor time"""
    services: float


class Simulated:
    """One service: a machine at its heat, and its broker."""

    def __init__(self, nth: int, port: int, clock: Clock) -> None:
        self.broker = Broker(
            Options("127.0.0.1", f"emberward/room-{nth:03}", port), clock, lambda why: None, lambda s: None
        )
        self._clock = clock
        self._watch = watch_of(MACHINE, Machine(), Settings())
        self._world = begin(self._watch, clock.now())
        self._nth = nth
        self._occurrence = 0

    def second(self) -> None:
        """One second of its life: a line, a tick, a state."""
        now, topics = self._clock.now(), self.broker.topics
        text = f"ok T:{205 + (now.elapsed * 7 + self._nth) % 1:.2f} /205.00 B:59.98 /60.00 @:46 B@:33"
        line = Line(now, Direction.RECEIVED, text, read(Direction.RECEIVED, text))
        self._world = step(self._watch, step(self._watch, self._world, line)[0], Tick(now))[0]
        told = payloads.state(MACHINE, look(self._watch, self._world, now), dict(self._world.conditions), now)
        self.broker.publish(topics.state(MACHINE), payloads.encode(told), True, Kind.STATE)

    def alarm(self, transition: Transition) -> None:
        """One transition, with the alarm's own topic."""
        now, topics = self._clock.now(), self.broker.topics
        self._occurrence += transition is Transition.RAISED
        seen = {"nozzle": 205.0, "target": 205.0, "hot_for_s": 476, "dose_min": 10.4}
        changed = AlarmChanged(now, ALARM, self._occurrence, transition, Priority.HIGH, seen)
        standing = Standing(occurrence=self._occurrence, raised=now, priority=Priority.HIGH, evidence=seen)
        if transition is not Transition.CLEARED:
            standing = Standing(Phase.UNACKNOWLEDGED, occurrence=self._occurrence, raised=now, evidence=seen)
        self.broker.publish(topics.event(MACHINE), payloads.encode(payloads.event(MACHINE, changed)), False, Kind.ALARM)
        kept = payloads.encode(payloads.alarm(MACHINE, TABLE[ALARM], standing, now))
        self.broker.publish(topics.alarm(MACHINE, ALARM), kept, True, Kind.ALARM)

    async def live(self) -> None:
        """For ever, each service at its own moment of the second."""
        await asyncio.sleep(self._nth % 100 / 100)
        seconds = 0
        while True:
            due = time.monotonic() + 1
            self.second()
            seconds += 1
            if (seconds + self._nth) % 20 == 0:
                self.alarm(LIFE[(seconds + self._nth) // 20 % 3])
            await asyncio.sleep(max(0.0, due - time.monotonic()))


async def district(services: int, seconds: float, away: float) -> list[dict[str, str]]:
    """The rows of the table."""
    with tempfile.TemporaryDirectory() as folder:
        broker = Mosquitto(Path(folder))
        broker.start()
        clock = Clock()
        every = [Simulated(nth, broker.port, clock) for nth in range(services)]
        try:
            async with asyncio.TaskGroup() as tasks:
                running = [tasks.create_task(one.broker.run()) for one in every]
                running += [tasks.create_task(one.live()) for one in every]
                found = await _measured(every, broker, seconds, away)
                for task in running:
                    task.cancel()
        finally:
            broker.kill()
        return found


async def _measured(every: list[Simulated], broker: Mosquitto, seconds: float, away: float) -> list[dict[str, str]]:
    await _all_there(every)
    rows = []
    store = await asyncio.create_subprocess_exec(
        *(sys.executable, "-m", "tests.bench.district", "--store", str(broker.port)),
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    )
    await asyncio.sleep(5)
    before = _sample(every, broker)
    await asyncio.sleep(seconds)
    rows.append(_row("steady running", before, _sample(every, broker), broker))
    heard = json.loads((await store.communicate(b"\n"))[0])
    rows[0] |= {
        "read by a store, messages/s": f"{heard['messages'] / heard['seconds']:,.0f}",
        "bytes each": str(heard["size"]),
    }
    broker.kill()
    for transition in LIFE:
        await asyncio.sleep(away / 3)
        for one in every:
            one.alarm(transition)
    waited = sum(one.broker.facts()["waiting"] for one in every)
    broker.start()
    before = _sample(every, broker)
    seconds_of: list[int] = []
    async with asyncio.TaskGroup() as tasks:
        counting = tasks.create_task(_busiest(every, seconds_of))
        await _all_there(every, since=2)
        counting.cancel()
    row = _row("everything comes back", before, _sample(every, broker), broker)
    row |= {
        "in the busiest second": f"{max(seconds_of, default=0):,}",
        "had waited": f"{waited:,}",
        "dropped": str(sum(sum(one.broker.facts()["dropped"].values()) for one in every)),
        "until all was said, s": f"{time.monotonic() - before.at:.1f}",
    }
    return [*rows, row]


async def _all_there(every: list[Simulated], since: int = 1) -> None:
    """Until each is connected, for the `since`-th time, and all but this second's state is said."""
    while True:
        if all(_there(one.broker, since) for one in every):
            return
        await asyncio.sleep(0.05)


def _there(broker: Broker, since: int) -> bool:
    return broker.connected and broker.counts["connections"] >= since and broker.facts()["waiting"] <= 1


async def _busiest(every: list[Simulated], found: list[int]) -> None:
    """Messages said in each second, for ever."""
    before = sum(one.broker.counts["said"] for one in every)
    while True:
        await asyncio.sleep(1)
        now = sum(one.broker.counts["said"] for one in every)
        found.append(now - before)
        before = now


def _sample(every: list[Simulated], broker: Mosquitto) -> Sample:
    said = sum(one.broker.counts["said"] for one in every)
    return Sample(time.monotonic(), said, spent(broker.process), time.process_time())


def _row(what: str, before: Sample, after: Sample, broker: Mosquitto) -> dict[str, str]:
    span = after.at - before.at
    return {
        "moment": what,
        "said, messages/s": f"{(after.said - before.said) / span:,.0f}",
        "broker, % of a core": f"{100 * (after.broker - before.broker) / span:.1f}",
        "broker, MB": f"{memory(broker.process)['rss_mb']:.1f}",
        "services' process, % of a core": f"{100 * (after.services - before.services) / span:.0f}",
    }


async def _store(port: int) -> None:
    """Reads everything until its standard input ends; tells how much."""
    ended = asyncio.get_running_loop().run_in_executor(None, sys.stdin.readline)
    count = size = 0
    async with aiomqtt.Client("127.0.0.1", port) as client:
        await client.subscribe("emberward/#", qos=1)
        began = time.monotonic()
        async for message in client.messages:
            if not message.retain and isinstance(message.payload, bytes):
                count, size = count + 1, size + len(message.payload)
            if ended.done():
                break
    print(json.dumps({"messages": count, "size": size // max(1, count), "seconds": time.monotonic() - began}))


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench.district", description=__doc__.split("\n")[0])
    parser.add_argument("--services", type=int, default=200)
    parser.add_argument("--seconds", type=float, default=30.0, help="of steady running that are measured")
    parser.add_argument("--away", type=float, default=20.0, help="s without the broker")
    parser.add_argument("--store", type=int, metavar="PORT", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.store is not None:
        asyncio.run(_store(asked.store))
        return
    rows = asyncio.run(district(asked.services, asked.seconds, asked.away))
    names = list(dict.fromkeys(name for row in rows for name in row))
    print(f"{asked.services} services, one mosquitto   ({computer()})\n")
    print(f"| {' | '.join(names)} |\n|{' --- |' * len(names)}")
    for row in rows:
        print(f"| {' | '.join(row.get(name, '') for name in names)} |")


if __name__ == "__main__":
    main()
