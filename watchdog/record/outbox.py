"""The outbox: messages that were committed with their alarm and wait for delivery. The only way by which anybody is told.

A delivered parcel stays, with its attempts, as the history of who was told what and when.
"""

from collections.abc import Collection, Iterable, Mapping
from typing import Final

from watchdog.core.effects import Priority, Tell, TellKind
from watchdog.core.moment import Moment
from watchdog.record.parcels import Attempt, Parcel
from watchdog.record.pen import Pen, Row, facts_text, read_facts

LONGEST_WAIT: Final = 3_600.0
"""s: the longest back-off. A next try further ahead is due at once: the wall clock was set back meanwhile"""
MOST_DUE: Final = 1_000
"""parcels handed out at once, oldest first; the rest follows"""


class UnknownParcel(LookupError):
    """An attempt was logged for a message that no commit put into the outbox."""


def put(pen: Pen, machine: str, at: Moment, recipients: Iterable[tuple[Tell, str]]) -> int:
    """Make a parcel of each message with each person; how many are new."""
    new = 0
    for tell, person in recipients:
        incident = pen.one(
            "SELECT incident FROM alarm WHERE machine = ? AND name = ? AND occurrence = ? ORDER BY id DESC LIMIT 1",
            machine,
            tell.alarm,
            tell.occurrence,
        )
        new += pen.run(
            "INSERT INTO parcel (incident, machine, alarm, occurrence, kind, nth, person, priority, evidence, at, at_elapsed,"
            " since, since_elapsed, next_at, created) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
            " ON CONFLICT (machine, alarm, occurrence, kind, nth, person, at) DO NOTHING",
            None if incident is None else incident[0],
            machine,
            tell.alarm,
            tell.occurrence,
            tell.kind.value,
            tell.nth,
            person,
            tell.priority.value,
            facts_text(tell.evidence),
            tell.at.stamp,
            tell.at.elapsed,
            tell.since.stamp,
            tell.since.elapsed,
            tell.next_at,
            at.stamp,
        )
    return new


TELL_COLUMNS: Final = (
    "parcel.at_elapsed, parcel.at, parcel.kind, parcel.alarm, parcel.occurrence, parcel.priority, parcel.since_elapsed,"
    " parcel.since, parcel.nth, parcel.evidence, parcel.next_at"
)


def read_tell(row: Row) -> Tell:
    """The message of a row of `TELL_COLUMNS`."""
    at_elapsed, at, kind, alarm, occurrence, priority, since_elapsed, since, nth, evidence, next_at = row
    return Tell(
        Moment(at_elapsed, at),
        TellKind(kind),
        alarm,
        occurrence,
        Priority(priority),
        Moment(since_elapsed, since),
        nth,
        read_facts(evidence),
        next_at,
    )


def due(pen: Pen, stamp: float) -> tuple[Parcel, ...]:
    """What should be delivered at `stamp`, oldest first."""
    rows = pen.all(
        f"SELECT id, person, machine, created, (SELECT count(*) FROM attempt WHERE attempt.parcel = parcel.id), {TELL_COLUMNS}"
        " FROM parcel WHERE delivered IS NULL AND given_up IS NULL AND (next_try IS NULL OR next_try <= ? OR next_try > ?)"
        " ORDER BY id LIMIT ?",
        stamp,
        stamp + LONGEST_WAIT,
        MOST_DUE,
    )
    parcels = []
    for number, person, machine, created, attempts, *tell in rows:
        refused = pen.all("SELECT DISTINCT route FROM attempt WHERE parcel = ? AND outcome = 'refused'", number)
        routes = frozenset(route for (route,) in refused)
        parcels.append(Parcel(number, person, machine, read_tell(tuple(tell)), created, attempts, routes))
    return tuple(parcels)


def log(
    pen: Pen,
    attempts: Iterable[Attempt],
    next_try: Mapping[int, float],
    delivered: Collection[int],
    given_up: Mapping[int, str],
) -> None:
    """What became of some parcels; see `Record.log_attempts`."""
    attempts = tuple(attempts)
    for number in {attempt.parcel for attempt in attempts} | set(next_try) | set(delivered) | set(given_up):
        if pen.one("SELECT 1 FROM parcel WHERE id = ?", number) is None:
            raise UnknownParcel(f"no parcel {number} in the outbox")
    pen.run_each(
        "INSERT INTO attempt (parcel, route, stamp, outcome, detail) VALUES (?, ?, ?, ?, ?)"
        " ON CONFLICT (parcel, route, stamp, outcome) DO NOTHING",
        ((attempt.parcel, attempt.route, attempt.at, attempt.outcome.value, attempt.detail) for attempt in attempts),
    )
    pen.run_each("UPDATE parcel SET next_try = ? WHERE id = ?", ((stamp, number) for number, stamp in next_try.items()))
    last = "coalesce((SELECT max(stamp) FROM attempt WHERE attempt.parcel = parcel.id), created)"
    pen.run_each(
        f"UPDATE parcel SET delivered = {last} WHERE id = ? AND delivered IS NULL", ((number,) for number in delivered)
    )
    pen.run_each(
        f"UPDATE parcel SET given_up = {last}, given_up_why = ? WHERE id = ? AND delivered IS NULL AND given_up IS NULL",
        ((why, number) for number, why in given_up.items()),
    )


def oldest_undelivered(pen: Pen) -> float | None:
    """Stamp at which the oldest waiting parcel was committed; None when none waits."""
    row = pen.one("SELECT min(created) FROM parcel WHERE delivered IS NULL AND given_up IS NULL")
    return None if row is None else row[0]
