"""The record: everything that happened and everything that is to be told, in one file.

One file, because an alarm and its messages must be committed together, and transactions over several files are not atomic
with a write-ahead log. Synchronous and for one thread at a time: the service calls it in an executor of one thread, one
method a hop, each method one transaction.

Nobody is told but from the outbox: a `Tell` becomes parcels only in `commit`, and delivery takes parcels only from `due`.
"""

import sqlite3
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path

from watchdog.core.effects import AlarmChanged, Tell
from watchdog.core.moment import Moment
from watchdog.record import alarms, incidents, jobs, keeping, opening, outbox, schema, telemetry, writing
from watchdog.record.batch import Batch, Committed
from watchdog.record.entries import Entries
from watchdog.record.faults import DamagedFile, is_damage, unusable
from watchdog.record.parcels import Attempt, Parcel
from watchdog.record.pen import Pen
from watchdog.record.reader import Reader
from watchdog.record.rescue import Rescue, is_under_way, rescue


class Record(Entries, Reader):
    """The record, for writing. Every method raises `RecordUnusable` when disk, rights or a lock are in the way.

    After that nothing of the call is stored, and the same call may be made again: what was committed before is recognised.
    """

    def __init__(
        self,
        path: Path,
        at: Moment,
        connecting: opening.Connecting,
        patience: float,
        scripts: Sequence[str],
        keep_names: bool,
    ) -> None:
        self.path = path
        self.rescued: Rescue | None = None
        """set when the file was found damaged, at opening or later: people should be told"""
        self._at = at
        self._connecting = connecting
        self._patience = patience
        self._scripts = scripts
        self._keep_names = keep_names
        self._open = None
        self._depth = 0
        self._suspect = False  # the open file was found damaged while in use
        self._file: tuple[int, int] | None = None  # device and inode of the open file

    @classmethod
    def open(
        cls,
        path: Path,
        at: Moment,
        *,
        connecting: opening.Connecting = sqlite3.Connection,
        patience: float = 5.0,
        scripts: Sequence[str] = schema.SCRIPTS,
        keep_names: bool = False,
    ) -> "Record":
        """The record at `path`, made or brought up to date where needed.

        `keep_names`: the names of job files are kept; else a hash in their place, by which equal ones can be told (names
        that were kept earlier stay until `forget_names`).

        A damaged file is moved aside as ``<name>.damaged-<UTC stamp>``, what can be read is copied into a new one, and
        `rescued` says so. `patience`: s to wait for another program's lock. `RecordUnusable` when the file is of a newer
        version or another program's (it is left alone), or cannot be written.
        """
        record = cls(path, at, connecting, patience, scripts, keep_names)
        record._connection()
        return record

    def commit(self, batch: Batch) -> Committed:
        """Store a step of a machine: all of it, on the disk, before this returns, or nothing of it."""
        with self._writing(batch.at) as pen:
            for effect in batch.effects:
                writing.write_effect(pen, batch.machine, effect, keep_names=self._keep_names)
            for summary in batch.summaries:
                jobs.summarise(pen, batch.machine, summary, keep_names=self._keep_names)
            told = {order.tell[:4] for order in batch.orders}
            for effect in batch.effects:
                if isinstance(effect, Tell) and effect[:4] not in told:
                    writing.write_untold(pen, batch.machine, effect)
            parcels = outbox.put(pen, batch.machine, batch.at, batch.orders)
            for effect in batch.effects:
                if isinstance(effect, AlarmChanged):
                    outbox.withdraw(pen, batch.machine, effect)
            incidents.keep(pen, batch.machine, batch.at, batch.surroundings)
            telemetry.keep(pen, batch.machine, batch.surroundings.minutes)
            if batch.world is not None:
                _put_world(pen, batch.machine, batch.world, batch.at)
            near = incidents.latest(pen, batch.machine, batch.at)
            return Committed(near.id if near is not None and near.collects(batch.at) else None, parcels)

    def save_world(self, machine: str, world: str, at: Moment) -> None:
        """Store the frozen world of `machine` (JSON) by itself."""
        with self._writing(at) as pen:
            _put_world(pen, machine, world, at)

    def collecting(self, machine: str, at: Moment) -> int | None:
        """The incident that lines and readings of `machine` belong to at this moment; None when none does."""
        with self._looking() as pen:
            near = incidents.latest(pen, machine, at)
        return near.id if near is not None and near.collects(at) else None

    def let_go(self, machine: str, at: Moment, why: str) -> int:
        """End the standing alarms of a machine that nobody follows any more (its world could not be thawed, or it has left
        the settings). How many that were; each is noted with `why`."""
        with self._writing(at) as pen:
            return alarms.let_go(pen, machine, at, why)

    def due(self, stamp: float) -> tuple[Parcel, ...]:
        """What should be delivered at `stamp`, oldest first, at most 10,000; what waits for a later time is left out."""
        with self._looking() as pen:
            return outbox.due(pen, stamp)

    def log_attempts(
        self,
        attempts: Iterable[Attempt],
        next_try: Mapping[int, float],
        delivered: Collection[int] = (),
        given_up: Mapping[int, str] | None = None,
    ) -> None:
        """What became of some parcels (by id).

        `next_try`: stamp before which a parcel is not due again, at most an hour ahead. `delivered`: some route took it.
        `given_up`: it will never be delivered (its person is gone from the settings), and why. `UnknownParcel` when an id
        is none of the outbox's; nothing is stored then.
        """
        with self._transaction("BEGIN IMMEDIATE") as pen:
            outbox.log(pen, attempts, next_try, delivered, given_up or {})

    def oldest_undelivered(self) -> float | None:
        """Stamp from which on the oldest parcel could have gone out that is neither delivered nor given up; None when none
        waits. It lies ahead when all that wait are collected for later."""
        with self._looking() as pen:
            return outbox.oldest_undelivered(pen)

    def prune(self, at: Moment, limits: keeping.Keeping = keeping.KEEPING) -> keeping.Pruned:
        """Remove a bounded number of rows that are past their time. Once a day, and again while `more` is true."""
        with self._transaction("BEGIN IMMEDIATE") as pen:
            return keeping.prune(pen, at.stamp, limits)

    @contextmanager
    def _entering(self) -> Iterator[Pen]:
        """What people enter comes at any time, and moves no clock."""
        with self._transaction("BEGIN IMMEDIATE") as pen:
            yield pen

    @contextmanager
    def _writing(self, at: Moment) -> Iterator[Pen]:
        self._at = at
        with self._transaction("BEGIN IMMEDIATE") as pen:
            pen.run(
                "INSERT INTO moment (one, elapsed, stamp) VALUES (1, ?, ?) ON CONFLICT (one) DO UPDATE SET"
                " elapsed = excluded.elapsed, stamp = excluded.stamp WHERE excluded.elapsed >= elapsed",
                *at,
            )
            yield pen

    def _connection(self) -> sqlite3.Connection:
        """The connection; opened again when it was given up, or when the file has been taken away under it."""
        try:
            if self._open is not None and _identity(self.path) != self._file:
                self.close()
            if self._open is None:
                self._open = self._connect()
                self._file = _identity(self.path)
        except (sqlite3.Error, OSError) as error:
            self.close()
            raise unusable(self.path, error) from error
        return self._open

    def _connect(self) -> sqlite3.Connection:
        if is_under_way(self.path):
            self._rescue("a rescue was cut off")
        try:
            return opening.connect(self.path, self._patience, self._connecting, self._scripts, suspect=self._suspect)
        except DamagedFile as damage:
            self._rescue(str(damage))
            return opening.connect(self.path, self._patience, self._connecting, self._scripts)

    def _met(self, error: sqlite3.Error) -> None:
        """Damage shows while the file is in use: the next call opens it again, reads it through, and rescues it."""
        if is_damage(error):
            self._suspect = True
            self.close()

    def _rescue(self, why: str) -> None:
        self.rescued = rescue(self.path, self._at.stamp, why, self._connecting, self._scripts)
        self._suspect = False


def _put_world(pen: Pen, machine: str, world: str, at: Moment) -> None:
    pen.run(
        "INSERT INTO world (machine, json, elapsed, stamp) VALUES (?, ?, ?, ?) ON CONFLICT (machine) DO UPDATE SET"
        " json = excluded.json, elapsed = excluded.elapsed, stamp = excluded.stamp",
        machine,
        world,
        *at,
    )


def _identity(path: Path) -> tuple[int, int] | None:
    """Device and inode of the file at `path`; None when there is none."""
    try:
        found = path.stat()
    except FileNotFoundError:
        return None
    return found.st_dev, found.st_ino
