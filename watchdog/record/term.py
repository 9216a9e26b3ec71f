"""Questions about jobs, labels, upkeep and the whole of a term. `since` is included, `until` is not; None: no bound."""

from collections.abc import Collection, Iterable, Iterator
from contextlib import AbstractContextManager
from typing import Any

from watchdog.record import blindness, export, job_query, labels, outbox, sheets, spools, term_queries, upkeep
from watchdog.record.pen import Pen
from watchdog.record.rows import JobRow
from watchdog.record.term_rows import (
    BlindRow,
    DiameterRow,
    DoneRow,
    HotTime,
    LabelNow,
    LabelRow,
    MessageRow,
    OccurrenceRow,
    SheetRow,
    SpoolRow,
    Subject,
    Unlabelled,
    UpkeepRow,
)

_ALL_TIME = 1e300


class Term:
    """The part of a `Reader` that a review needs. For several answers from one and the same moment: `one_moment`."""

    def _looking(self) -> AbstractContextManager[Pen]:
        raise NotImplementedError

    def jobs(
        self,
        since: float | None = None,
        until: float | None = None,
        machine: str | None = None,
        limit: int | None = 100,
    ) -> tuple[JobRow, ...]:
        """Jobs that touch that time, newest first. `limit` None: all of them."""
        with self._looking() as pen:
            return job_query.jobs(pen, since, until, machine, limit)

    def job(self, number: int) -> JobRow | None:
        """One job by its `id`; None when there is none."""
        with self._looking() as pen:
            return job_query.job(pen, number)

    def job_id(self, machine: str, number: int) -> int | None:
        """The `id` of the latest job of `machine` with this number; None when there is none."""
        with self._looking() as pen:
            row = pen.one("SELECT max(id) FROM job WHERE machine = ? AND number = ?", machine, number)
        return None if row is None else row[0]

    def alarm_id(self, machine: str, alarm: str, occurrence: int | None = None) -> int | None:
        """The `id` of that occurrence, or of the latest one; None when there is none."""
        with self._looking() as pen:
            row = pen.one(
                "SELECT max(id) FROM alarm WHERE machine = ? AND name = ? AND (? IS NULL OR occurrence = ?)",
                machine,
                alarm,
                occurrence,
                occurrence,
            )
        return None if row is None else row[0]

    def occurrences(
        self,
        since: float | None = None,
        until: float | None = None,
        machine: str | None = None,
        alarm: str | None = None,
    ) -> tuple[OccurrenceRow, ...]:
        """Occurrences of alarms with their labels, by when they were raised, oldest first."""
        with self._looking() as pen:
            return term_queries.occurrences(pen, *_bounds(since, until), machine, alarm)

    def messages(
        self,
        since: float | None = None,
        until: float | None = None,
        machine: str | None = None,
        person: str | None = None,
    ) -> tuple[MessageRow, ...]:
        """Messages to people by when they were made, oldest first."""
        with self._looking() as pen:
            return term_queries.messages(pen, *_bounds(since, until), machine, person)

    def told(self, person: str, since: float) -> tuple[float, ...]:
        """Stamps at which `person` was told something, from `since` on, in order. What went out as one message, with one
        stamp, counts once."""
        with self._looking() as pen:
            return outbox.told(pen, person, since)

    def blind(
        self, since: float | None = None, until: float | None = None, machine: str | None = None
    ) -> tuple[BlindRow, ...]:
        """Times in which a machine was not seen, oldest first. Those of different causes may overlap
        (`blindness.seconds` counts each moment once)."""
        with self._looking() as pen:
            return blindness.spans(pen, machine, *_bounds(since, until))

    def hot_time(self, machine: str, since: float, until: float, hot_from: float) -> HotTime:
        """Minutes in which the nozzle was at `hot_from` °C or more, in jobs and beside them."""
        with self._looking() as pen:
            return term_queries.hot_time(pen, machine, since, until, hot_from)

    def labels_of(self, kind: Subject, subject: int) -> tuple[LabelRow, ...]:
        """Everything that was said of one subject, in order; none is ever missing, also when it was corrected."""
        with self._looking() as pen:
            return labels.of(pen, kind, subject)

    def label_now(self, kind: Subject, subject: int) -> LabelNow:
        """The latest word on each part of a subject; all None where nothing was said."""
        with self._looking() as pen:
            row = pen.one(
                f"SELECT {labels.NOW_COLUMNS} FROM label_now AS now WHERE kind = ? AND subject = ?", kind, subject
            )
        return labels.read_now((None,) * 6 if row is None else row)

    def labels(
        self,
        since: float | None = None,
        until: float | None = None,
        machine: str | None = None,
        kind: Subject | None = None,
    ) -> tuple[LabelRow, ...]:
        """Labels of what began in that time, first-layer answers included, in the order in which they were said."""
        with self._looking() as pen:
            return labels.between(pen, *_bounds(since, until), machine, kind)

    def unlabelled(
        self,
        kinds: Collection[Subject] = (Subject.JOB, Subject.ALARM),
        machine: str | None = None,
        limit: int = 100,
    ) -> tuple[Unlabelled, ...]:
        """What nobody has judged yet, newest first: ended jobs without an outcome, alarms without a usefulness, incidents
        without any label."""
        with self._looking() as pen:
            return labels.unlabelled(pen, kinds, machine, limit)

    def upkeep(self, machine: str, items: Iterable[str], hot_from: float) -> tuple[UpkeepRow, ...]:
        """What `machine` has done since each of `items` was last seen to. Hot is a nozzle at `hot_from` °C or more."""
        with self._looking() as pen:
            return upkeep.counted(pen, machine, items, hot_from)

    def upkeep_done(self, machine: str | None = None, item: str | None = None) -> tuple[DoneRow, ...]:
        """Everything that was seen to, oldest first."""
        with self._looking() as pen:
            return upkeep.history(pen, machine, item)

    def sheets(self, machine: str | None = None) -> tuple[SheetRow, ...]:
        """Build surfaces with the jobs that they bore, oldest first."""
        with self._looking() as pen:
            return sheets.listed(pen, machine)

    def spools(self, machine: str | None = None, loaded_only: bool = False) -> tuple[SpoolRow, ...]:
        """Spools with what should be left on them, oldest first."""
        with self._looking() as pen:
            return spools.listed(pen, machine, loaded_only)

    def diameters(self, machine: str | None = None) -> tuple[DiameterRow, ...]:
        """Measured filament, oldest first."""
        with self._looking() as pen:
            return spools.diameters(pen, machine)

    def export_rows(self, table: str) -> Iterator[dict[str, Any]]:
        """The rows of one of `export.TABLES` by column, one at a time. Not from a `Record` that is to be written meanwhile."""
        with self._looking() as pen:
            yield from export.rows(pen, table)


def _bounds(since: float | None, until: float | None) -> tuple[float, float]:
    return -_ALL_TIME if since is None else since, _ALL_TIME if until is None else until
