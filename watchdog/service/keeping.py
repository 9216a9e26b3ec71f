"""The record, in a thread of its own: a whole transaction a hop, so that a slow disk never stops the reading.

While the record cannot be written the watch goes on: steps wait in memory to be written later, and messages are delivered
from memory. What was told is then noted when the record works again. A kill in that time loses what waits; that is said.
"""

import asyncio
from collections import deque
from collections.abc import Callable, Collection, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import TypeVar

from watchdog.clock import Clock
from watchdog.core.effects import AlarmChanged, Noted, Tell, TellKind, Transition
from watchdog.core.orders import Order
from watchdog.record.batch import Batch, Committed
from watchdog.record.faults import RecordUnusable
from watchdog.record.parcels import Attempt, Parcel
from watchdog.record.store import Record

T = TypeVar("T")

_Key = tuple[str, str, int, int, str, str]

MOST_WAITING = 5_000  # batches kept while the record cannot be written: hours of steps; beyond that the oldest go
MOST_STAMPS = 1_000  # times at which people were told from memory: more than an hour's worth
TRY_AGAIN = 10.0  # s between attempts to write what waits
_READING, _WRITING = "reading", "writing"


class Keeping:
    """Writes batches, serves the outbox."""

    def __init__(
        self, place: Path, clock: Clock, trouble: Callable[[str | None], None], *, keep_names: bool = False
    ) -> None:
        """`trouble` is told a sentence when writing fails, and None when it works again. `keep_names`: of job files."""
        self._keep_names = keep_names
        self._place = place
        self._clock = clock
        self._trouble = trouble
        self._thread = ThreadPoolExecutor(1, thread_name_prefix="record")
        self._record: Record | None = None
        self._waiting: deque[Batch] = deque()
        self._held: dict[int, Parcel] = {}
        self._held_next: dict[int, float] = {}
        self._told_from_memory: set[_Key] = set()
        self._told_stamps: deque[tuple[str, float]] = deque(maxlen=MOST_STAMPS)
        self._last_id = 0
        self._last_try = float("-inf")
        self._writing_on = False  # what waits is being written just now
        self._failing: str | None = None  # what was told to be in trouble
        self.lost = 0

    def follow(self, clock: Clock) -> None:
        """Take the time from `clock` from now on: the one that carries on from the stored worlds."""
        self._clock = clock

    async def open(self) -> Record:
        """Open the record. Raises RecordUnusable: the service does not start without one."""
        at = self._clock.now()
        self._record = await self._call(lambda: Record.open(self._place, at, keep_names=self._keep_names))
        return self._record

    async def use(self, work: Callable[[Record], T]) -> T:
        """Do `work` with the record in its thread."""
        record = self._record
        if record is None:
            raise RecordUnusable(self._place, "the record is not open", "See the log for why.")
        return await self._call(lambda: work(record))

    async def commit(self, batch: Batch) -> Committed | None:
        """Write `batch`; None when it could not be written.

        Never raises for a record that cannot be written: the batch then waits and its messages go out from memory. A batch
        that only carries surroundings is let go.
        """
        if self._waiting and not await self._write_waiting():
            self._hold(batch)
            return None
        try:
            committed = await self.use(lambda record: record.commit(batch))
        except RecordUnusable as unusable:
            self._fails(_WRITING, unusable)
            self._hold(batch)
            return None
        self._works(_WRITING)
        return committed

    async def retry(self) -> None:
        """Write what waits, if it is time to try again."""
        if self._waiting and self._clock.now().elapsed - self._last_try >= TRY_AGAIN:
            await self._write_waiting()

    async def due(self, stamp: float) -> tuple[Parcel, ...]:
        """Parcels whose next attempt is due, oldest first."""
        held = tuple(
            parcel
            for key, parcel in self._held.items()
            if self._held_next.get(key, 0.0) <= stamp and (parcel.not_before is None or parcel.not_before <= stamp)
        )
        try:
            kept = await self.use(lambda record: record.due(stamp))
        except RecordUnusable as unusable:
            self._fails(_READING, unusable)
            return held
        self._works(_READING)
        return *held, *kept

    async def told(self, person: str, since: float) -> tuple[float, ...]:
        """Stamps at which `person` was told something, from `since` on, in order; from memory as well."""
        memory = [stamp for name, stamp in self._told_stamps if name == person and stamp >= since]
        try:
            recorded = await self.use(lambda record: record.told(person, since))
        except RecordUnusable as unusable:
            self._fails(_READING, unusable)
            recorded = ()
        return tuple(sorted({*memory, *recorded}))

    async def settle(
        self, attempts: Sequence[Attempt], next_try: Mapping[int, float], delivered: Collection[int] = ()
    ) -> None:
        """Note what became of attempts. Raises OSError when the record cannot take it now: say it again later."""
        for key in [key for key in delivered if key in self._held]:
            parcel = self._held.pop(key)
            self._told_stamps.append(
                (parcel.person, max((one.at for one in attempts if one.parcel == key), default=0.0))
            )
            self._told_from_memory.add(_key(parcel.machine, parcel.tell, parcel.person))
        for key, stamp in next_try.items():
            if key in self._held:
                self._held_next[key] = stamp
                self._held[key] = self._held[key]._replace(attempts=self._held[key].attempts + 1)
        of_record = [attempt for attempt in attempts if attempt.parcel > 0]
        later = {key: stamp for key, stamp in next_try.items() if key > 0}
        done = [key for key in delivered if key > 0]
        if not (of_record or later or done):
            return
        try:
            await self.use(lambda record: record.log_attempts(of_record, later, done))
        except RecordUnusable as unusable:
            self._fails(_WRITING, unusable)
            raise OSError(str(unusable)) from unusable  # the delivery keeps it and says it again
        self._works(_WRITING)

    async def close(self) -> None:
        """Write what can be written and let the record go."""
        if self._waiting:
            self._last_try = float("-inf")
            await self._write_waiting()
        record, self._record = self._record, None
        if record is not None:
            await self._call(record.close)
        self._thread.shutdown()

    @property
    def waiting(self) -> int:
        """Batches that wait to be written."""
        return len(self._waiting)

    async def _write_waiting(self) -> bool:
        """Whether everything that waited is written now. One at a time: it can take longer than the pause between tries."""
        now = self._clock.now()
        if self._writing_on or now.elapsed - self._last_try < TRY_AGAIN:
            return False
        self._last_try = now.elapsed
        self._writing_on = True
        try:
            while self._waiting:
                batch = self._waiting[0]
                await self.use(partial(Record.commit, batch=self._settled(batch)))
                if self._waiting and self._waiting[0] is batch:  # else it gave way meanwhile: too many waited
                    self._waiting.popleft()
                written = {_key(batch.machine, order.tell, order.person) for order in batch.orders}
                for number, held in list(self._held.items()):
                    if _key(held.machine, held.tell, held.person) in written:
                        del self._held[number]  # it lies in the outbox now
        except RecordUnusable as unusable:
            self._fails(_WRITING, unusable)
            return False
        finally:
            self._writing_on = False
        self._works(_WRITING)
        return True

    def _fails(self, what: str, unusable: RecordUnusable) -> None:
        """A read that works says nothing of writing, so the trouble is over when the same works again."""
        if self._failing != _WRITING:
            self._failing = what
        self._trouble(str(unusable))

    def _works(self, what: str) -> None:
        if self._failing == what and not self._waiting:
            self._failing = None
            self._trouble(None)

    def _settled(self, batch: Batch) -> Batch:
        """`batch` without the messages that were delivered from memory; each is noted instead."""
        still: list[Order] = []
        notes: list[Noted] = []
        for order in batch.orders:
            tell = order.tell
            if _key(batch.machine, tell, order.person) in self._told_from_memory:
                facts = {"person": order.person, "alarm": tell.alarm, "message": tell.kind.value}
                notes.append(Noted(tell.at, "told-while-unrecorded", facts))
            else:
                still.append(order)
        return batch._replace(orders=tuple(still), effects=(*batch.effects, *notes))

    def _hold(self, batch: Batch) -> None:
        if not (batch.effects or batch.summaries) and batch.world is None:
            return
        if len(self._waiting) >= MOST_WAITING:
            self._waiting.popleft()
            self.lost += 1
        self._waiting.append(batch)
        for order in batch.orders:
            self._last_id -= 1
            self._held[self._last_id] = Parcel(
                self._last_id,
                order.person,
                batch.machine,
                order.tell,
                batch.at.stamp,
                0,
                frozenset(),
                order.not_before,
                order.loud,
                order.why,
            )
        for effect in batch.effects:
            if isinstance(effect, AlarmChanged) and effect.transition in (Transition.ACKNOWLEDGED, Transition.CLEARED):
                self._withdraw(batch.machine, effect)

    def _withdraw(self, machine: str, change: AlarmChanged) -> None:
        """What waits in memory for its time and has become idle; the record does the same for what lies in it."""
        for number, held in list(self._held.items()):
            same = (held.machine, held.tell.alarm, held.tell.occurrence) == (machine, change.alarm, change.occurrence)
            waits = held.not_before is not None and held.not_before > change.at.stamp and not held.attempts
            if same and waits and held.tell.kind is not TellKind.ALL_CLEAR:
                del self._held[number]

    async def _call(self, work: Callable[[], T]) -> T:
        return await asyncio.get_running_loop().run_in_executor(self._thread, work)


def _key(machine: str, tell: Tell, person: str) -> _Key:
    """What tells one message to one person from every other."""
    return machine, tell.alarm, tell.occurrence, tell.nth, tell.kind.value, person
