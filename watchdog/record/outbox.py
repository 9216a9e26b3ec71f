"""The outbox: messages that were committed with their alarm and wait for delivery. The only way by which anybody is told.

A delivered parcel stays, with its attempts, as the history of who was told what and when.
"""

from collections.abc import Collection, Iterable, Mapping
from typing import Final

from watchdog.core.effects import AlarmChanged, Priority, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.record.parcels import Attempt, Parcel
from watchdog.record.pen import Pen, Row, facts_text, read_facts

LONGEST_WAIT: Final = 3_600.0
"""s: the longest back-off. A next try further ahead is due at once: the wall clock was set back meanwhile"""
ANSWERED: Final = "answered before it was due"
OVER: Final = "over before it was due"
MOST_DUE: Final = 10_000
"""parcels handed out at once, urgent ones before all others; the rest follows. More than a day's flood, so that what piled up
goes out as one message; reading so many takes some 0.1 s"""


class UnknownParcel(LookupError):
    """An attempt was logged for a message that no commit put into the outbox."""


def put(pen: Pen, machine: str, at: Moment, orders: Iterable[Order]) -> int:
    """Make a parcel of each message with each person; how many are new."""
    new = 0
    for order in orders:
        tell = order.tell
        incident = pen.one(
            "SELECT incident FROM alarm WHERE machine = ? AND name = ? AND occurrence = ? ORDER BY id DESC LIMIT 1",
            machine,
            tell.alarm,
            tell.occurrence,
        )
        new += pen.run(
            "INSERT INTO parcel (incident, machine, alarm, occurrence, kind, nth, person, priority, evidence, at, at_elapsed,"
            " since, since_elapsed, next_at, created, not_before, loud, why)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
            " ON CONFLICT (machine, alarm, occurrence, kind, nth, person, at) DO NOTHING",
            None if incident is None else incident[0],
            machine,
            tell.alarm,
            tell.occurrence,
            tell.kind.value,
            tell.nth,
            order.person,
            tell.priority.value,
            facts_text(tell.evidence),
            tell.at.stamp,
            tell.at.elapsed,
            tell.since.stamp,
            tell.since.elapsed,
            tell.next_at,
            at.stamp,
            order.not_before,
            int(order.loud),
            order.why,
        )
    return new


def withdraw(pen: Pen, machine: str, change: AlarmChanged) -> None:
    """Take back what nobody has been told yet and what has become idle by `change`: the alarm was answered, or is over.

    Only what still waits for its time and was never tried: a message that the network held up goes out, since somebody was
    meant to know by now. The all-clear stays; whether it is wanted is the routing's business.
    """
    if change.transition not in _ENDS_WAITING:
        return
    pen.run(
        "UPDATE parcel SET given_up = ?, given_up_why = ? WHERE machine = ? AND alarm = ? AND occurrence = ?"
        " AND kind IN ('alarm', 'reminder', 'escalated') AND at_elapsed <= ? AND not_before > ? AND next_try IS NULL"
        " AND delivered IS NULL AND given_up IS NULL"
        " AND NOT EXISTS (SELECT 1 FROM attempt WHERE attempt.parcel = parcel.id)",
        change.at.stamp,
        _ENDS_WAITING[change.transition],
        machine,
        change.alarm,
        change.occurrence,
        change.at.elapsed,
        change.at.stamp,
    )


_ENDS_WAITING: Final = {Transition.ACKNOWLEDGED: ANSWERED, Transition.CLEARED: OVER}


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
    """What should be delivered at `stamp`, oldest first.

    A message that is to wait is due at once when it was made more than the longest back-off ahead of `stamp`: the wall
    clock was set back meanwhile, and its time may be years away.
    """
    rows = pen.all(
        "SELECT id, person, machine, created, (SELECT count(*) FROM attempt WHERE attempt.parcel = parcel.id),"
        f" not_before, loud, why, {TELL_COLUMNS}"
        " FROM parcel WHERE delivered IS NULL AND given_up IS NULL AND (next_try IS NULL OR next_try <= ? OR next_try > ?)"
        " AND (not_before IS NULL OR not_before <= ? OR at > ?) ORDER BY priority = 'urgent' DESC, id LIMIT ?",
        stamp,
        stamp + LONGEST_WAIT,
        stamp,
        stamp + LONGEST_WAIT,
        MOST_DUE,
    )
    parcels = []
    for number, person, machine, created, attempts, not_before, loud, why, *tell in rows:
        refused = pen.all("SELECT DISTINCT route FROM attempt WHERE parcel = ? AND outcome = 'refused'", number)
        routes = frozenset(route for (route,) in refused)
        message = read_tell(tuple(tell))
        parcels.append(Parcel(number, person, machine, message, created, attempts, routes, not_before, bool(loud), why))
    return tuple(sorted(parcels, key=lambda parcel: parcel.id))


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
    """Stamp from which on the oldest waiting parcel could have gone out; None when none waits."""
    row = pen.one(
        "SELECT min(max(created, coalesce(not_before, created))) FROM parcel WHERE delivered IS NULL AND given_up IS NULL"
    )
    return None if row is None else row[0]


def told(pen: Pen, person: str, since: float) -> tuple[float, ...]:
    """Stamps at which `person` was told something, from `since` on, in order."""
    rows = pen.all(
        "SELECT DISTINCT delivered FROM parcel WHERE person = ? AND delivered >= ? ORDER BY delivered", person, since
    )
    return tuple(stamp for (stamp,) in rows)
