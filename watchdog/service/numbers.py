"""Keeps the numbers for a time-series store up to date and their door open."""

from collections.abc import Callable, Mapping
from contextlib import suppress
from functools import partial

from watchdog import __version__
from watchdog.clock import Clock
from watchdog.core.alarms import book as alarms
from watchdog.core.alarms.standing import Phase, announced
from watchdog.core.alarms.table import TABLE
from watchdog.core.step import World
from watchdog.host.latency import Latency
from watchdog.host.metrics import Alarming, Facts, Metrics, OfMachine
from watchdog.record.faults import RecordUnusable
from watchdog.record.store import Record
from watchdog.service.keeping import Keeping
from watchdog.service.watching import Watching

EVERY = 1.0  # s between two finished values
OUTBOX_EVERY = 15.0  # s between two looks into the outbox
FIRST_PAUSE, LONGEST_PAUSE = 5.0, 300.0  # s between tries at a port that is taken


class Numbers:
    """One finished `Facts` a second, and the endpoint that tells it."""

    def __init__(
        self,
        address: str,
        port: int,
        workers: Mapping[str, Watching],
        itself: str,
        keeping: Keeping,
        clock: Clock,
        delivered: Callable[[], tuple[Mapping[str, int], Latency]],
        refused: Callable[[], Mapping[str, int]],
        unsaid: Callable[[], int | None],
        report: Callable[[str | None], None],
    ) -> None:
        """`delivered` gives the attempts by outcome and how long deliveries took, `unsaid` the messages that wait for
        the broker (None without one); `report` takes a sentence while the port cannot be had, None once it can."""
        self._place = (address, port)
        self._workers = workers
        self._itself = itself
        self._keeping = keeping
        self._clock = clock
        self._delivered = delivered
        self._refused = refused
        self._unsaid = unsaid
        self._report = report
        self._began = clock.now()
        self._outbox: tuple[int, float | None] = (0, None)
        self._looked = float("-inf")
        self._facts = self._made()
        self.port: int | None = None
        """where it is told; None while it is not"""

    async def run(self) -> None:
        """For ever."""
        metrics = Metrics(lambda: self._facts)
        pause, again = FIRST_PAUSE, float("-inf")
        try:
            while True:
                now = self._clock.now()
                if self.port is None and now.elapsed >= again:
                    try:
                        self.port = metrics.open(self._place[1], self._place[0])
                        self._report(None)
                    except OSError as taken:
                        words = f"metrics: port {self._place[1]} of {self._place[0]} cannot be had: {taken.strerror}."
                        self._report(f"{words} Choose another, or end what has it.")
                        again, pause = now.elapsed + pause, min(2 * pause, LONGEST_PAUSE)
                if now.elapsed - self._looked >= OUTBOX_EVERY:
                    self._looked = now.elapsed
                    await self._look_into_outbox(now.stamp)
                self._facts = self._made()
                await self._clock.sleep(EVERY)
        finally:
            metrics.close()

    async def _look_into_outbox(self, stamp: float) -> None:
        with suppress(RecordUnusable):  # told by whoever writes next
            waiting = await self._keeping.use(partial(Record.due, stamp=stamp + 7 * 86400.0))
            oldest = min((parcel.created for parcel in waiting), default=None)
            self._outbox = (len(waiting), None if oldest is None else max(0.0, stamp - oldest))

    def _made(self) -> Facts:
        attempts, took = self._delivered()
        return Facts(
            version=__version__,
            started=self._began.stamp,
            running=self._clock.now().elapsed - self._began.elapsed,
            machines={
                name: _machine(worker, self._clock.now().elapsed)
                for name, worker in self._workers.items()
                if name != self._itself
            },
            own_alarms=_alarming(self._workers[self._itself].world) if self._itself in self._workers else (),
            attempts=dict(attempts),
            delivery=took.copy(),
            outbox=self._outbox[0],
            oldest_waiting=self._outbox[1],
            unwritten=self._keeping.waiting,
            unsaid=self._unsaid(),
            refused=dict(self._refused()),
        )


def _machine(worker: Watching, now: float) -> OfMachine:
    counts = worker.world.counts
    here = {spec.name for spec in worker.watch.sensors}  # readings may be left of one that is no longer set up
    return OfMachine(
        seen=worker.seen(),
        alarms=_alarming(worker.world),
        lines=counts.lines,
        unparsed=counts.unparsed,
        damaged=counts.damaged,
        waiting=worker.waiting,
        dropped=worker.dropped,
        answers=worker.answers.copy(),
        conditions=dict(worker.world.conditions),
        sensors_heard={reading.sensor: now - reading.at for reading in worker.world.readings if reading.sensor in here},
    )


def _alarming(world: World) -> tuple[Alarming, ...]:
    return tuple(
        Alarming(name, one.priority or TABLE[name].priority, one.phase is Phase.ACKNOWLEDGED)
        for name, one in alarms.standing(world.book)
        if announced(one) or one.phase is Phase.RETURNED
    )
