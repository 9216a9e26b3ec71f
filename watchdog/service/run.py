"""Wiring: one TaskGroup owns every task of the service."""

import asyncio
import signal
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING, Any

import structlog

from watchdog.alerts.delivery import Delivery
from watchdog.alerts.wording import Minute
from watchdog.clock import Clock
from watchdog.core import cooling
from watchdog.core.alarms import book as alarms
from watchdog.core.effects import Effect, Noted
from watchdog.core.events import Impaired, Resumed, Tick
from watchdog.core.materials import MATERIALS
from watchdog.core.moment import Moment
from watchdog.core.outlook import JobFile
from watchdog.core.step import Watch, World, begin
from watchdog.host.instance import only_instance
from watchdog.host.notify import ServiceManager
from watchdog.record.batch import Batch
from watchdog.record.faults import RecordUnusable
from watchdog.record.store import Record
from watchdog.service.answers import Answers
from watchdog.service.beside import Wishes
from watchdog.service.control import serve
from watchdog.service.counted import Counted
from watchdog.service.entering import Entering
from watchdog.service.folder import JobFolder
from watchdog.service.frozen import LogMark, memories_in, thaw
from watchdog.service.health import Health
from watchdog.service.keeping import Keeping
from watchdog.service.logs import narrate
from watchdog.service.rooms import Rooms, Shared, Task
from watchdog.service.summing import Stock
from watchdog.service.watching import Ties, Watching
from watchdog.service.wires import Wire
from watchdog.settings import Settings
from watchdog.settings.fill import (
    ITSELF,
    delivery_of,
    motion_of,
    pace_of,
    people_of,
    unspoken,
    watch_of,
    watch_of_itself,
)
from watchdog.settings.model import Machine
from watchdog.settings.mqtt_options import mqtt_of
from watchdog.settings.notices import cooling_of, wanted
from watchdog.settings.places import Kept
from watchdog.settings.routing import plan_of
from watchdog.sources.loop_lag import LoopLag

if TYPE_CHECKING:
    from watchdog.service.on_network import OnNetwork

SLEPT = 2.0  # s of suspension that count as a time without sight
HUNG = 10.0  # s that a tick may be late before that counts too
LOST_MEMORY = "the stored state was written by another version; the watch of this machine starts afresh"
HOUSEWORK = 600.0  # s between two looks at the disk and the record's age; each removes a bounded number of rows
MAIL_MINUTES = 600.0  # s of the machine's last minutes in a mail
STALE_WORK = 30.0  # s without a worked tick after which the service manager is no longer fed


@dataclass(frozen=True, slots=True)
class Hooks:
    """What a caller may listen to: the demonstration and the tests do."""

    ready: Callable[[], None] = lambda: None
    narrate: Callable[[str, Sequence[Effect]], None] = narrate


async def watch(settings: Settings, kept: Kept, *, rate: float = 1.0, hooks: Hooks | None = None) -> None:
    """Watch until SIGTERM or SIGINT, or until cancelled.

    Raises RecordUnusable when the incident log cannot be opened, AnotherInstance when one runs on the same state, NoPrinter
    when no machine is named and none is found.
    """
    hooks = hooks or Hooks()
    kept.state.mkdir(mode=0o700, parents=True, exist_ok=True)
    with only_instance(kept.state):
        service = Service(settings, kept, rate, hooks)
        await service.run()


def stock_of(machine: Machine) -> Stock:
    """What is loaded, by the settings."""
    material = MATERIALS[machine.material]
    return Stock(material.name, material.density, machine.filament_diameter)


class Service:
    """One running service."""

    def __init__(self, settings: Settings, kept: Kept, rate: float, hooks: Hooks) -> None:
        self._settings = settings
        self._kept = kept
        self._rate = rate
        self._hooks = hooks
        self._log = structlog.get_logger()
        self._clock = Clock(rate)
        self._started = self._clock.now()
        self._people = people_of(settings)
        self._broker = mqtt_of(settings.mqtt)
        self._network: OnNetwork | None = None
        self._workers: dict[str, Watching] = {}
        self._wires: dict[str, Wire] = {}
        self._health = Health(self._impaired)
        self._lag = LoopLag()
        self._folder: JobFolder | None = None
        self._rooms: Rooms | None = None
        self._counted = Counted()
        self._notify = ServiceManager()

    async def run(self) -> None:
        """Everything, until told to stop."""
        keep_names = self._settings.review.keep_file_names
        keeping = Keeping(self._kept.record, self._clock, self._record_trouble, keep_names=keep_names)
        record = await keeping.open()
        try:
            worlds = await self._stored(keeping)
            self._clock = Clock(self._rate, record.last_moment())
            self._started = self._clock.now()
            keeping.follow(self._clock)
            delivery = Delivery(
                keeping,
                self._people,
                self._clock,
                delivery_of(self._settings),
                self._delivery_trouble,
                minutes=partial(self._minutes, keeping),
                count=self._counted.count,
                links=lambda person, matter: None if self._rooms is None else self._rooms.link(person, matter),
                outlast_links=lambda person, matter: (
                    None if self._rooms is None else self._rooms.outlast_link(person, matter)
                ),
                marks=lambda person, matter: None if self._rooms is None else self._rooms.mark(person, matter),
                outlast_marks=lambda person, matter: (
                    None if self._rooms is None else self._rooms.outlast_mark(person, matter)
                ),
            )
            self._network = self._on_network()
            ties = Ties(self._clock, keeping, delivery.nudge, self._narrate)
            self._make(ties, worlds)
            shared = Shared(
                self._settings, self._kept, self._clock, self._workers, keeping, self._health, self._network
            )
            self._rooms = Rooms(shared)
            self._folder = self._job_folder()
            await self._let_go(keeping)
            await self._tell_of_rescue(keeping, record)
            await self._work(keeping, delivery, worlds, self._rooms.tasks(self._counted))
        finally:
            self._notify.stopping()
            await keeping.close()

    async def _stored(self, keeping: Keeping) -> dict[str, tuple[str, Moment]]:
        names = [*self._settings.machines, ITSELF]
        found = {name: await keeping.use(partial(Record.world, machine=name)) for name in names}
        return {name: world for name, world in found.items() if world is not None}

    def _make(self, ties: Ties, worlds: dict[str, tuple[str, Moment]]) -> None:
        for name, machine in self._settings.machines.items():
            watched = watch_of(name, machine, self._settings)
            world, mark = self._world(watched, worlds)
            memories = memories_in(worlds[name][0]) if name in worlds else None
            wishes = replace(self._wishes(cooling_of(machine.cooling)), stock=stock_of(machine))
            worker = Watching(watched, world, ties, wishes, pace=pace_of(machine), mark=mark, memories=memories)
            before = worlds[name][1].elapsed if name in worlds else self._started.elapsed
            self._workers[name] = worker
            subscribe = None if self._network is None else self._network.subscribe
            self._wires[name] = Wire(
                name, machine, self._kept, self._clock, worker, self._health, self._lag, before, subscribe
            )
        own = watch_of_itself(self._settings)
        memories = memories_in(worlds[ITSELF][0]) if ITSELF in worlds else None
        world = self._world(own, worlds)[0]
        self._workers[ITSELF] = Watching(
            own, world, ties, self._wishes(cooling.Limits()), wired=False, memories=memories
        )
        self._workers[ITSELF].post(Impaired(self._clock.now(), ()))

    def _wishes(self, cools: cooling.Limits) -> Wishes:
        """What the house asks for, beside the alarms."""
        settings = self._settings
        return Wishes(plan_of(settings), unspoken(settings), cools, wanted(settings.notices))

    def _on_network(self) -> "OnNetwork | None":
        """What is said on the network's broker; its library is loaded only where there is one."""
        if self._broker is None:
            return None
        from watchdog.service.on_network import OnNetwork

        topics = {name: sensor.topic for name, sensor in self._settings.sensors.items()}
        return OnNetwork(self._broker, self._workers, ITSELF, topics, self._clock, self._health)

    def _narrate(self, machine: str, effects: Sequence[Effect]) -> None:
        self._hooks.narrate(machine, effects)
        if self._network is not None:
            self._network.narrate(machine, effects)

    def _job_folder(self) -> JobFolder | None:
        """The folder of job files, planned for every machine."""
        if self._settings.jobs is None:
            return None
        motion = {name: motion_of(machine) for name, machine in self._settings.machines.items()}
        kept = self._kept.state / "plans"
        return JobFolder(
            self._settings.jobs,
            kept,
            motion,
            self._clock,
            self._planned,
            self._log.warning,
            listed=lambda name: self._workers[name].world.settings,
        )

    def _planned(self, name: str, files: tuple[JobFile, ...]) -> None:
        worker = self._workers[name]
        if worker.watch.files != files:
            worker.watch = replace(worker.watch, files=files)

    def _world(self, watched: Watch, worlds: dict[str, tuple[str, Moment]]) -> tuple[World, LogMark | None]:
        stored = worlds.get(watched.name)
        thawed = thaw(watched, stored[0]) if stored is not None else None
        if stored is not None and thawed is None:
            self._log.warning(LOST_MEMORY, machine=watched.name)
        return thawed if thawed is not None else (begin(watched, self._clock.now()), None)

    async def _let_go(self, keeping: Keeping) -> None:
        """End in the record what stands for machines that nobody follows any more, or whose memory was lost."""
        now = self._clock.now()
        stands = {row.machine for row in await keeping.use(lambda record: record.standing())}
        known = {name for name, worker in self._workers.items() if alarms.standing(worker.world.book)}
        for name in stands - known:
            why = "its memory was lost" if name in self._workers else "the machine is no longer in the settings"
            await keeping.use(partial(Record.let_go, machine=name, at=now, why=why))

        named = {person.name for person in self._people}
        gone = {
            parcel.id: "no longer in the settings"
            for parcel in await keeping.due(now.stamp + 3600)
            if parcel.person not in named
        }
        if gone:
            await keeping.use(partial(Record.log_attempts, attempts=(), next_try={}, given_up=gone))

    async def _tell_of_rescue(self, keeping: Keeping, record: Record) -> None:
        """Say that the record was found damaged and what could be saved."""
        if record.rescued is not None:
            self._log.warning("the record was found damaged", rescued=str(record.rescued))
            now = self._clock.now()
            note = Noted(now, "record-rescued", {"what": str(record.rescued)})
            await keeping.commit(Batch(ITSELF, now, (note,)))

    async def _resume(self, worlds: dict[str, tuple[str, Moment]]) -> None:
        """Tell every worker of the time in which nothing was seen, once its log (if it follows one) is read up to now."""
        for name, (_, at) in worlds.items():
            if name in self._wires:
                await self._wires[name].catch_up()
                now = self._clock.now()
                self._workers[name].post(Resumed(now, max(0.0, now.elapsed - at.elapsed)))

    async def _work(
        self, keeping: Keeping, delivery: Delivery, worlds: dict[str, tuple[str, Moment]], beside: list[Task]
    ) -> None:
        entering = Entering(self._settings, keeping, self._clock, self._workers)
        await entering.take_up(worlds)
        answers = Answers(self._workers, self._wires, self._clock, ITSELF, self._of_watch, entering)
        stop = asyncio.Event()
        loop = asyncio.get_running_loop()
        for number in (signal.SIGTERM, signal.SIGINT):
            loop.add_signal_handler(number, stop.set)
        try:
            async with asyncio.TaskGroup() as rooms:
                tasks = [
                    rooms.create_task(worker.run(), name=f"watch {name}") for name, worker in self._workers.items()
                ]
                tasks += [rooms.create_task(wire.run(), name=f"source {name}") for name, wire in self._wires.items()]
                tasks += [rooms.create_task(room, name=name) for name, room in beside]
                tasks.append(rooms.create_task(self._lag.run(), name="loop lag"))
                tasks.append(rooms.create_task(delivery.run(), name="delivery"))
                tasks.append(rooms.create_task(self._tick(), name="tick"))
                tasks.append(rooms.create_task(self._keep_house(keeping), name="housekeeping"))
                tasks.append(rooms.create_task(self._resume(worlds), name="resume"))
                if self._folder is not None:
                    tasks.append(rooms.create_task(self._folder.run(), name="job files"))
                tasks.append(rooms.create_task(serve(self._kept.socket, answers.answer, self._up), name="control"))
                await stop.wait()
                for task in tasks:
                    task.cancel()
        finally:
            for number in (signal.SIGTERM, signal.SIGINT):
                loop.remove_signal_handler(number)
            for wire in self._wires.values():
                wire.close()
            for worker in self._workers.values():
                await worker.finish()

    def _up(self) -> None:
        self._log.info(
            "watching", machines=sorted(self._wires), people=len(self._people), record=str(self._kept.record)
        )
        self._notify.ready()
        self._hooks.ready()

    async def _tick(self) -> None:
        """Every told second, to every worker; and the service manager is fed, if the workers did their work."""
        due = self._clock.now().elapsed + 1.0
        self._clock.slept()
        while True:
            await self._clock.sleep(max(0.0, due - self._clock.now().elapsed))
            now = self._clock.now()
            blind = max(self._clock.slept(), now.elapsed - due if now.elapsed - due > HUNG * self._rate else 0.0)
            for name, worker in self._workers.items():
                if name in self._wires and not self._wires[name].caught_up:
                    continue
                if blind > SLEPT:
                    if name in self._wires:
                        self._wires[name].host_resumed(now, blind)
                    worker.post(Resumed(now, blind))
                worker.post(Tick(now))
            for wire in self._wires.values():
                wire.look()
            oldest = min((w.last_tick.elapsed if w.last_tick else now.elapsed) for w in self._workers.values())
            if now.elapsed - oldest < STALE_WORK * self._rate:
                self._notify.alive()
            due = max(due + 1.0, now.elapsed)

    async def _keep_house(self, keeping: Keeping) -> None:
        """What may wait for a slow disk, and must not hold up a tick."""
        housework = self._clock.now().elapsed
        while True:
            await keeping.retry()
            now = self._clock.now()
            if now.elapsed >= housework:
                housework = now.elapsed + HOUSEWORK
                await self._tidy(keeping, now)
            await self._clock.sleep(1.0)

    async def _tidy(self, keeping: Keeping, now: Moment) -> None:
        """Let the record forget what is past its time."""
        with suppress(RecordUnusable):  # told by whoever writes next
            await keeping.use(partial(Record.prune, at=now))

    async def _minutes(self, keeping: Keeping, machine: str) -> list[Minute]:
        """The last minutes of a machine, for the small table in a mail."""
        now = self._clock.now().stamp
        try:
            rows = await keeping.use(partial(Record.minutes, machine=machine, since=now - MAIL_MINUTES, until=now + 60))
        except RecordUnusable:
            return []
        job = self._workers[machine].seen().job if machine in self._workers else None
        size = job.size if job is not None else None
        return [
            Minute(
                row.at,
                row.nozzle_mean,
                row.nozzle_target,
                row.bed_mean,
                100 * row.progress / size if size and row.progress is not None else None,
            )
            for row in rows
        ]

    def _of_watch(self) -> dict[str, Any]:
        """How the watch itself is, for `status`."""
        folder = self._folder
        return {
            "impairments": list(self._health.sentences),
            "people": [person.name for person in self._people],
            "job_files": None if folder is None else folder.facts(),
            **({} if self._rooms is None else self._rooms.facts()),
        }

    def _impaired(self, sentences: tuple[str, ...]) -> None:
        for sentence in sentences:
            self._log.warning("impaired", why=sentence)
        if ITSELF in self._workers:
            self._workers[ITSELF].post(Impaired(self._clock.now(), sentences))

    def _record_trouble(self, sentence: str | None) -> None:
        self._health.tell("record", () if sentence is None else (sentence,))

    def _delivery_trouble(self, sentences: tuple[str, ...]) -> None:
        self._health.tell("delivery", sentences)
