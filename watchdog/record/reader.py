"""Reading the record. The commands open it so, also while the service writes it."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self

from watchdog.core.moment import Moment
from watchdog.record import incident_query, opening, queries
from watchdog.record.faults import DamagedFile, RecordUnusable, unusable
from watchdog.record.pen import Pen
from watchdog.record.rows import EventRow, Incident, IncidentRow, MinuteRow, Standing
from watchdog.record.term import Term


class Reader(Term):
    """Questions to the record; each is answered from one moment of it. Raises `RecordUnusable` when it cannot be read."""

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self.path = path
        self._open: sqlite3.Connection | None = connection
        self._depth = 0

    @classmethod
    def read(cls, path: Path, patience: float = 5.0) -> "Reader":
        """The record at `path`, for reading only."""
        try:
            if not path.exists():
                raise RecordUnusable(
                    path, "there is no record yet", "Start the watch, or name the folder that it writes to."
                )
            return Reader(path, opening.connect_reading(path, patience))
        except (sqlite3.Error, OSError) as error:
            raise unusable(path, error) from error
        except DamagedFile as damage:
            raise RecordUnusable(
                path, f"the file is damaged ({damage})", "Start the watch; it saves what it can."
            ) from damage

    def close(self) -> None:
        """Let go of the file."""
        if self._open is not None:
            self._open.close()
            self._open = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def incidents(
        self,
        since: float | None = None,
        until: float | None = None,
        machine: str | None = None,
        alarm: str | None = None,
        open_only: bool = False,
        limit: int = 100,
        *,
        cause: str | None = None,
        label: str | None = None,
    ) -> tuple[IncidentRow, ...]:
        """Incidents, newest first. `open_only`: those with an alarm that is not cleared. `cause` and `label` (an outcome or
        a usefulness) as last said of the incident, of one of its alarms, or of a job of the machine at that time."""
        with self._looking() as pen:
            return queries.incidents(pen, since, until, machine, alarm, open_only, limit, cause, label)

    def incident(self, reference: int | str) -> Incident | None:
        """Everything about one incident: by its number, or ``machine/alarm`` for an alarm that stands."""
        with self._looking() as pen:
            return incident_query.incident(pen, reference)

    def standing(self, machine: str | None = None) -> tuple[Standing, ...]:
        """Alarms that are not cleared, most urgent first."""
        with self._looking() as pen:
            return queries.standing(pen, machine)

    def events(
        self, since: float | None = None, until: float | None = None, machine: str | None = None, limit: int = 100
    ) -> tuple[EventRow, ...]:
        """Everything that happened, newest first."""
        with self._looking() as pen:
            return queries.events(pen, since, until, machine, limit)

    def minutes(self, machine: str, since: float, until: float) -> tuple[MinuteRow, ...]:
        """Minute summaries, oldest first."""
        with self._looking() as pen:
            return queries.minutes(pen, machine, since, until)

    @contextmanager
    def one_moment(self) -> Iterator[None]:
        """All questions inside are answered from one and the same moment, whatever the service writes meanwhile. Not on a
        `Record` that is to be written in it."""
        with self._looking():
            yield

    def world(self, machine: str) -> tuple[str, Moment] | None:
        """The machine's world as last stored (JSON), and when; None when there is none."""
        with self._looking() as pen:
            row = pen.one("SELECT json, elapsed, stamp FROM world WHERE machine = ?", machine)
        return None if row is None else (row[0], Moment(row[1], row[2]))

    def last_moment(self) -> Moment | None:
        """The latest moment that anything was stored: the elapsed clock goes on from here, and the blind time begins here.
        None in a new record."""
        with self._looking() as pen:
            row = pen.one("SELECT elapsed, stamp FROM moment")
        return None if row is None else Moment(*row)

    def _connection(self) -> sqlite3.Connection:
        if self._open is None:
            raise RecordUnusable(self.path, "the record has been closed", "Open it again.")
        return self._open

    @contextmanager
    def _looking(self) -> Iterator[Pen]:
        """One moment of the record, however many statements look at it."""
        if self._depth:
            yield Pen(self._connection())
            return
        with self._transaction("BEGIN") as pen:
            self._depth += 1
            try:
                yield pen
            finally:
                self._depth -= 1

    @contextmanager
    def _transaction(self, begin: str) -> Iterator[Pen]:
        connection = self._connection()
        try:
            connection.execute(begin)
            yield Pen(connection)
            connection.execute("COMMIT")
        except BaseException as error:
            self._undo(connection)
            if isinstance(error, sqlite3.Error):
                self._met(error)
                raise unusable(self.path, error) from error
            raise

    def _met(self, error: sqlite3.Error) -> None:
        """A statement failed."""

    def _undo(self, connection: sqlite3.Connection) -> None:
        """Leave no transaction open; a connection that cannot even do that is given up, which undoes it, too."""
        try:
            if connection.in_transaction:
                connection.execute("ROLLBACK")
        except sqlite3.Error:
            self.close()
