"""One machine being watched: its lines and the ticks go through the core, what comes out goes into the record at once.

Reading never waits for any of this: the source appends to a bounded queue and goes on; here the queue is emptied in small
portions, with the event loop given back in between.
"""

import asyncio
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from watchdog.clock import Clock
from watchdog.core.effects import AlarmChanged, Effect, JobChanged, Noted, Transition
from watchdog.core.events import Event, Line, Resumed, Tick
from watchdog.core.finding import Evidence
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.snapshot import Execution, Snapshot
from watchdog.core.step import Watch, World, look, step
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.dialect.pace import Pace, Polling
from watchdog.dialect.polling import due, heard
from watchdog.host.latency import Latency
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.surroundings import Surroundings
from watchdog.service import beside
from watchdog.service.beside import Blind, Decided, Memories, Repair, Wishes
from watchdog.service.frozen import LogMark, freeze
from watchdog.service.keeping import Keeping
from watchdog.service.summing import Stock, summaries
from watchdog.sources.log_family import LogPlace
from watchdog.sources.traffic_log import LogSource

PORTION = 200  # lines taken before the loop is given back: about 5 ms
LONGEST_QUEUE = 20_000  # lines waiting; beyond that the oldest are dropped and counted
SAVE_EVERY = 60.0  # s between savings of the world when nothing happens
FRESH = 0.5  # real s: a tick that is older is no ground to act on
SURROUNDINGS_EVERY = 5.0  # s between additions to an open incident

IDLE = frozenset({Execution.READY, Execution.COMPLETE, Execution.STOPPED})


class Sends(Protocol):
    """A source that can carry a query to the machine."""

    def send(self, text: str) -> bool:
        """Whether the whole line was handed to the port."""


@dataclass(frozen=True, slots=True)
class _Said:
    """Something to be told that comes from no step."""

    at: Moment
    effects: tuple[Effect, ...]


@dataclass(slots=True)
class _Asked:
    """An event that somebody waits for."""

    event: Event
    done: "asyncio.Future[tuple[Effect, ...]]"


@dataclass(frozen=True, slots=True)
class Ties:
    """What a worker shares with the rest of the service."""

    clock: Clock
    keeping: Keeping
    told: Callable[[], None]
    """called when messages lie in the outbox"""
    narrate: Callable[[str, Sequence[Effect]], None]
    """called with a machine's effects once they are recorded"""


class Watching:
    """The worker of one machine, or of the watch itself, which has no wire."""

    def __init__(
        self,
        watch: Watch,
        world: World,
        ties: Ties,
        wishes: Wishes,
        *,
        pace: Pace | None = None,
        wired: bool = True,
        mark: LogMark | None = None,
        memories: Memories | None = None,
    ) -> None:
        self.watch = watch
        self.world = world
        self.memories = memories or Memories()
        """what is remembered beside the world: who was told what, and the like"""
        self.may_cool = False
        """the protective action is being sent at this very moment"""
        self.mark = mark
        """how far a followed log has gone into `world`"""
        self.dropped = 0
        self.last_tick: Moment | None = None
        self.answers = Latency()
        """from a query to the machine's next line"""
        self._ties = ties
        self._wishes = wishes
        self._pace = pace
        self._wired = wired
        self._polling = Polling()
        self._sender: Sends | None = None
        self._log: LogSource | None = None
        self._skip = mark.beyond if mark is not None else 0
        self._places: deque[LogPlace | None] = deque()  # of each waiting line: where the log stood before it
        self._queue: deque[Event | _Asked | _Said] = deque()
        self._wake = asyncio.Event()
        self._surroundings = Surroundings()
        self._incident: int | None = None
        self._saved = self._written = float("-inf")
        self._stored = float("-inf")  # elapsed of the last step that lies in the record with all that is remembered
        self._blind: Blind | None = None
        self._asked_at: float | None = None  # elapsed of the query that no line has followed yet
        self._lately: list[Effect] = []  # effects since the last look beside the world

    def asks_through(self, sender: Sends) -> None:
        """Let queries go out through `sender`."""
        self._sender = sender

    def reads_from(self, log: LogSource) -> None:
        """Keep account of how far `log` has been taken in."""
        self._log = log

    def loaded(self, stock: Stock) -> None:
        """Take `stock` for what is loaded from now on."""
        self._wishes = replace(self._wishes, stock=stock)

    def hear(self, at: Moment, direction: Direction, text: str) -> None:
        """A line of traffic from the source. Never waits."""
        if self._skip and direction is not Direction.REMARK:  # in the world already, before the restart
            self._skip -= 1
            return
        if len(self._queue) >= LONGEST_QUEUE:
            self._drop()
        if self._log is not None:
            self._places.append(self._log.place)
        self._queue.append(Line(at, direction, text, read(direction, text)))
        self._wake.set()

    def post(self, event: Event) -> None:
        """Something else that happened: a tick, a time without sight, an impairment."""
        self._queue.append(event)
        self._wake.set()

    def say(self, at: Moment, effects: tuple[Effect, ...]) -> None:
        """Have `effects` recorded and told that come from no step: the day's notices."""
        self._queue.append(_Said(at, effects))
        self._wake.set()

    def repair(self, at: Moment, repair: Repair | None, by: str) -> None:
        """Take the machine out of service for a bounded time, or (None) back before it is over."""
        if repair is not None:
            facts: Evidence = {"seconds": round(repair.until - at.elapsed), "by": by, "reason": repair.reason}
            self.say(at, (Noted(at, "out-of-service", facts),))
        elif self.memories.repair is not None:  # ended by the next step, which tells what stands
            repair = self.memories.repair._replace(until=at.elapsed, ended_by=by)
        self.memories = replace(self.memories, repair=repair)

    async def ask(self, event: Event) -> tuple[Effect, ...]:
        """Post `event` and wait until its effects are in the record."""
        asked = _Asked(event, asyncio.get_running_loop().create_future())
        self._queue.append(asked)
        self._wake.set()
        return await asked.done

    @property
    def waiting(self) -> int:
        """Lines and events that are not worked on yet."""
        return len(self._queue)

    @property
    def idle(self) -> bool | None:
        """Whether the machine executes nothing; None when that cannot be told."""
        execution = self.seen().execution
        return None if execution is Execution.UNAVAILABLE else execution in IDLE

    def seen(self) -> Snapshot:
        """What is known of the machine now."""
        return look(self.watch, self.world, self._ties.clock.now())

    async def run(self) -> None:
        """Work until cancelled."""
        while True:
            await self._wake.wait()
            self._wake.clear()
            while self._queue:
                await self._portion()
                await asyncio.sleep(0)

    async def finish(self) -> None:
        """Take what still waits and save the world: the service stops in good order."""
        while self._queue:
            await self._portion()
        self._surroundings.end_minute()
        await self._keep((), (), self._ties.clock.now(), last=True)

    def _drop(self) -> None:
        """Make room by letting the oldest line go. Ticks and requests are never dropped."""
        for place, item in enumerate(self._queue):
            if isinstance(item, Line):
                del self._queue[place]
                self._took(item)
                self.dropped += 1
                return

    def _took(self, line: Line) -> None:
        """Count `line` as gone into the world, for the account of a followed log."""
        if self._log is None:
            return
        place = self._places.popleft()
        if place is not None and (self.mark is None or place != self.mark.place):
            self.mark = LogMark(place, 0)
        if self.mark is not None and line.direction is not Direction.REMARK:
            self.mark = LogMark(self.mark.place, self.mark.beyond + 1)
        if not self._places and self._log.place is not None and self._log.place != place:
            self.mark = LogMark(self._log.place, 0)

    async def _portion(self) -> None:
        effects: list[Effect] = []
        orders: list[Order] = []
        ended: list[JobSummary] = []
        asked: list[tuple[_Asked, tuple[Effect, ...]]] = []
        at: Moment | None = None
        for _ in range(min(PORTION, len(self._queue))):
            item = self._queue.popleft()
            event = item.event if isinstance(item, _Asked) else item
            at = event.at
            came = self._step(event)
            effects += came
            ended += self._ended(came, at)
            decided = beside.after_step(self._wishes, self.memories, self.watch, came, at, self.world.book)
            effects += decided.effects
            if isinstance(event, Tick):
                more = self._on_tick(at, decided.memories, came)
                effects += more.effects
                orders += more.orders
                self.memories = more.memories
            else:
                self._lately += came
                self.memories = decided.memories
            orders += decided.orders
            if isinstance(item, _Asked):
                asked.append((item, came))
        if at is None:
            return
        await self._keep(tuple(effects), tuple(orders), at, tuple(ended))
        for answered, came in asked:
            if not answered.done.done():
                answered.done.set_result(came)

    def _step(self, event: Event | _Said) -> tuple[Effect, ...]:
        """The world after `event`, and what is said because of it."""
        if isinstance(event, _Said):
            return event.effects
        if isinstance(event, Resumed) and self._wired:
            earlier = self._blind  # blind again before anything was seen: one time, from the first beginning
            last = Moment(
                event.at.elapsed - event.blind, event.at.stamp - event.blind
            )  # what was known then, not what is stale
            before = look(self.watch, self.world, last) if earlier is None else earlier.before
            self._blind = Blind(before, event.at, event.blind + (0.0 if earlier is None else earlier.seconds))
        self.world, came = step(self.watch, self.world, event)
        if isinstance(event, Line):
            self._took(event)
            self._surroundings.line(event.at, event.direction, event.text)
            if self._asked_at is not None and event.direction is Direction.RECEIVED:
                self.answers.add(max(0.0, event.at.elapsed - self._asked_at))
                self._asked_at = None
            if self._pace is not None:
                self._polling = heard(self._pace, self._polling, event.at.elapsed, event.meaning)
        return came

    def _ended(self, came: tuple[Effect, ...], at: Moment) -> tuple[JobSummary, ...]:
        """What the jobs came to that have ended by this step."""
        if not any(isinstance(effect, JobChanged) for effect in came):
            return ()
        seen = look(self.watch, self.world, at)
        return summaries(self.memories.course, self._wishes.stock, self.watch, self.world, seen, came)

    def _on_tick(self, at: Moment, memories: Memories, came: tuple[Effect, ...]) -> Decided:
        """Once a second: the reading for the record, the next query, and what is decided beside the world."""
        self.last_tick = at
        if not self._wired:
            return Decided(memories)
        seen = look(self.watch, self.world, at)
        nozzle, bed, job = seen.nozzle, seen.bed, seen.job
        progress = job.progress if job is not None and job.ended is None else None
        self._surroundings.reading(at, nozzle.now, nozzle.target, bed.now, bed.target, progress)
        if self._pace is not None and self._sender is not None:
            idle = None if seen.execution is Execution.UNAVAILABLE else seen.execution in IDLE
            self._polling, query = due(self._pace, self._polling, at.elapsed, idle)
            if query is not None and self._sender.send(query) and self._asked_at is None:
                self._asked_at = at.elapsed
        lately, self._lately = (*self._lately, *came), []
        decided = beside.each_second(self._wishes, memories, self.watch, self.world, seen, lately, self._blind, at)
        if decided.blind_told:
            self._blind = None
        ready = memories.cooled.ready
        stored = ready is not None and self._stored >= ready
        if decided.commands and not (stored and self._cool(decided.commands, at)):
            decided = beside.uncooled(decided)
        return decided

    def _cool(self, commands: tuple[str, ...], at: Moment) -> bool:
        """Send the protective action; whether it went out. Whether the machine obeys is seen, and told, later.

        Not on old news: what came after this tick may tell of a job, and a loop that was held up has heard nothing meanwhile.
        """
        late = self._ties.clock.now().elapsed - at.elapsed > FRESH * self._ties.clock.rate
        if self._sender is None or late or any(isinstance(item, Line) for item in self._queue):
            return False
        self.may_cool = True
        try:
            sent = [self._sender.send(command) for command in commands]
        finally:
            self.may_cool = False
        return sent[0]  # the nozzle's; by that one it is judged

    async def _keep(
        self,
        effects: tuple[Effect, ...],
        orders: tuple[Order, ...],
        at: Moment,
        ended: tuple[JobSummary, ...] = (),
        *,
        last: bool = False,
    ) -> None:
        """Put the step into the record, before anybody is told of it."""
        save = last or bool(effects) or bool(orders) or at.elapsed - self._saved >= SAVE_EVERY
        if not save and (self._incident is None or at.elapsed - self._written < SURROUNDINGS_EVERY):
            return
        ties = self._ties
        if any(isinstance(effect, AlarmChanged) and effect.transition is Transition.RAISED for effect in effects):
            excerpt = self._surroundings.before()
        elif self._incident is not None:
            excerpt = self._surroundings.pending()
        else:
            excerpt = self._surroundings.summaries()
        world = freeze(self.watch, self.world, self.mark, self.memories) if save else None
        committed = await ties.keeping.commit(Batch(self.watch.name, at, effects, orders, world, excerpt, ended))
        self._written = at.elapsed
        if save:
            self._saved = at.elapsed
        if committed is not None:
            self._surroundings.written(excerpt)
            self._incident = committed.incident
            if save:
                self._stored = at.elapsed
        if effects:
            ties.narrate(self.watch.name, effects)
        if orders:
            ties.told()
