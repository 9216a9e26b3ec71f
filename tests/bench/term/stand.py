"""One machine under its own time, and the watch beside it: the very core, routing and register that the service runs.

A machine that is cold and idle is left alone for some seconds at a time: its last report stands for those that would have come.
"""

from collections.abc import Callable
from dataclasses import replace

from tests.bench.term import house
from tests.bench.term.entries import Entry
from watchdog.core.alarms.book import standing
from watchdog.core.effects import AlarmChanged, Effect, JobChanged, Transition
from watchdog.core.events import Event, Line, Measured, Tick
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.step import begin, look, step
from watchdog.core.traffic import Direction, TrafficLine
from watchdog.dialect import read
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.surroundings import Surroundings
from watchdog.service import beside
from watchdog.service.beside import Memories, Wishes
from watchdog.service.frozen import freeze
from watchdog.service.summing import summaries
from watchdog.service.watching import SURROUNDINGS_EVERY
from watchdog.settings.fill import pace_of, unspoken, watch_of
from watchdog.settings.notices import cooling_of, wanted
from watchdog.settings.routing import plan_of
from watchdog.simulator.listeners import Carrier, Ear, Poller
from watchdog.simulator.machine import Options, SimulatedMachine
from watchdog.simulator.script import Director
from watchdog.simulator.streaming import Streaming, StreamingComputer

HOUR = 3600.0
AT_MOST = 300.0
"""s between two looks at a machine that rests. The report and the look have one and the same moment, so the machine is never
silent"""
MINUTE = 60
COLD = 45.0
"""°C"""


class Stand:
    """See above. `told` hears each message that goes to a person."""

    def __init__(self, name: str, furnished: house.House, seed: int, told: Callable[[Order, Moment], None]) -> None:
        self.name = name
        self.settings = furnished.settings
        settings = self.settings.machines[name]
        files = tuple((kind.name, kind.content) for kind in house.kinds().values())
        self.machine = SimulatedMachine(Options(files=files, ambient=20.5), seed)
        self.first = house.first_moment()
        self.entries: list[Entry] = []
        self._told = told
        self._begins = self.first.stamp
        """stamp of the machine's own 0"""
        self._second = 0
        self.streamed = settings.source == "log"
        self._ear: Ear
        if self.streamed:
            self.computer_starts()
        else:
            self._ear = Poller(self.machine, self._begins, pace_of(settings), reports=True)
        self._director = Director(self.machine)
        self._ear.remark(0.0, "link opened")
        made = watch_of(name, settings, self.settings)
        self.watch = replace(made, files=furnished.files[name])
        self._week = -1
        self._look_up_hours()
        self.world = begin(self.watch, self.now)
        self.memories = Memories()
        self._wishes = Wishes(
            plan_of(self.settings), unspoken(self.settings), cooling_of(settings.cooling), wanted(self.settings.notices)
        )
        self._surroundings = Surroundings()
        self._lately: list[Effect] = []
        self._effects: list[Effect] = []
        self._orders: list[Order] = []
        self._ended: list[JobSummary] = []
        self._collects_until = self._written = self._hourly = float("-inf")
        self._last_report: str | None = None

    @property
    def now(self) -> Moment:
        """The term's time."""
        stamp = self._begins + self._second
        return Moment(stamp - self.first.stamp, stamp)

    def do(self, deed: str, words: str = "") -> None:
        """Let something happen at the machine, as in a script of the simulator."""
        self._director.do(deed, words)

    def computer_starts(self) -> None:
        """The laptop's streaming program begins to write its log."""
        computer = StreamingComputer(self.machine, Streaming())
        self.machine.computer = computer
        self._ear = Carrier(self.machine, self._begins, computer)
        self._ear.free_at = self.machine.now

    def pass_seconds(self, seconds: int = 1) -> None:
        """Let some seconds pass, at the machine and for the watch, which looks at their end."""
        for _ in range(seconds - 1):
            self._second += 1
            self._ear.let(self._director, float(self._second))
        self._second += 1
        self._ear.let(self._director, float(self._second))
        lines, self._ear.lines = self._ear.lines, []
        now, ticked = self.now, False
        for line in lines:
            if not ticked and line.stamp > now.stamp:
                self._tick(now)
                ticked = True
            self._hear(line)
        if not ticked:
            self._tick(now)
        self._keep(now)

    def steady(self) -> bool:
        """Nothing is asked of anybody, so that a look every few seconds will do."""
        return not standing(self.world.book)

    def rests(self) -> bool:
        """Cold, idle, and nothing is asked of anybody."""
        machine = self.machine
        if machine.at_work or machine.nozzle.target > 0 or machine.bed.target > 0:
            return False
        seen = look(self.watch, self.world, self.now)
        if seen.active is not False or seen.nozzle.now is None or seen.bed.now is None:
            return False
        return max(seen.nozzle.now, seen.bed.now) < COLD and not standing(self.world.book)

    def pass_idle(self, seconds: float) -> None:
        """Let up to `AT_MOST` of `seconds` s pass over a machine that rests."""
        seen, before = look(self.watch, self.world, self.now), self.now
        self._begins += min(seconds, AT_MOST)
        self._ear.begin = self._begins
        now = self.now
        for gone in range(MINUTE, int(now.elapsed - before.elapsed), MINUTE):  # so that no minute is missing
            at = Moment(before.elapsed + gone, before.stamp + gone)
            self._surroundings.reading(at, seen.nozzle.now, 0.0, seen.bed.now, 0.0, None)
        if self._last_report is not None:
            self._hear(TrafficLine(now.stamp, Direction.RECEIVED, self._last_report))
        self._tick(now)
        self._keep(now)

    def feed(self, event: Event) -> tuple[Effect, ...]:
        """Something happens to the watch."""
        self.world, came = step(self.watch, self.world, event)
        ticks = isinstance(event, Tick)
        if not came and not ticks:
            return came
        at = event.at
        self._effects += came
        if any(isinstance(effect, JobChanged) for effect in came):
            seen = look(self.watch, self.world, at)
            course, stock = self.memories.course, self._wishes.stock
            self._ended += summaries(course, stock, self.watch, self.world, seen, came)
        decided = beside.after_step(self._wishes, self.memories, self.watch, came, at)
        self.memories = decided.memories
        self._decided(decided)
        self._lately += came
        if ticks:
            seen = look(self.watch, self.world, at)
            nozzle, bed, job = seen.nozzle, seen.bed, seen.job
            progress = job.progress if job is not None and job.ended is None else None
            self._surroundings.reading(at, nozzle.now, nozzle.target, bed.now, bed.target, progress)
            lately, self._lately = self._lately, []
            more = beside.each_second(self._wishes, self.memories, self.watch, self.world, seen, lately, None, at)
            self.memories = more.memories
            self._decided(more)
        return came

    def save(self) -> None:
        """The service stops in good order: the running minute and the world go into the record."""
        self._surroundings.end_minute()
        world = freeze(self.watch, self.world, None, self.memories)
        excerpt = self._surroundings.summaries()
        self.entries.append(Batch(self.name, self.now, world=world, surroundings=excerpt))
        self._surroundings.written(excerpt)

    # ------------------------------------------------------------ the watch

    def _decided(self, decided: beside.Decided) -> None:
        self._effects += decided.effects
        self._orders += decided.orders
        for order in decided.orders:
            self._told(order, self.now)

    def _hear(self, line: TrafficLine) -> None:
        at = Moment(line.stamp - self.first.stamp, line.stamp)
        if line.direction is Direction.RECEIVED and "T:" in line.text:
            self._last_report = line.text
        self._surroundings.line(at, line.direction, line.text)
        self.feed(Line(at, line.direction, line.text, read(line.direction, line.text)))

    def _tick(self, now: Moment) -> None:
        self._look_up_hours()
        if self.watch.sensors:
            moved = self.machine.filament.moved // house.STEP * house.STEP
            self.feed(Measured(now, self.watch.sensors[0].name, moved))
        self.feed(Tick(now))

    def _look_up_hours(self) -> None:
        """Once a week the calendars are read anew."""
        week = int(self.now.elapsed // (7 * 24 * HOUR))
        if week != self._week:
            self._week = week
            self.watch = replace(self.watch, timetable=house.timetable(self.settings, self.now.stamp))

    def _keep(self, now: Moment) -> None:
        """What the worker of the service would put into the record by now."""
        effects, orders, ended = tuple(self._effects), tuple(self._orders), tuple(self._ended)
        raised = any(isinstance(one, AlarmChanged) and one.transition is Transition.RAISED for one in effects)
        if any(isinstance(one, AlarmChanged) for one in effects) or standing(self.world.book):
            self._collects_until = now.elapsed + 330.0  # an incident collects for 300 s after its last alarm returned
        collects = now.elapsed < self._collects_until
        due = collects and now.elapsed - self._written >= SURROUNDINGS_EVERY
        if not (effects or orders or ended or due or now.elapsed - self._hourly >= HOUR):
            return
        if raised:
            excerpt = self._surroundings.before()
        else:
            excerpt = self._surroundings.pending() if collects else self._surroundings.summaries()
        self.entries.append(Batch(self.name, now, effects, orders, None, excerpt, ended))
        self._surroundings.written(excerpt)
        self._written = self._hourly = now.elapsed
        self._effects, self._orders, self._ended = [], [], []
