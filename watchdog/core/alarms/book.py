"""All alarms of one machine: one look at every condition, and what people do about them.

A `Book` is a value: the shell stores it as JSON (pydantic's `TypeAdapter(Book)`), and after a restart the watch goes on with
it, since `elapsed` is carried over. Evidence with a number that is not finite does not survive JSON; detectors give none.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from watchdog.core.alarms.alarm import Alarm
from watchdog.core.alarms.lifecycle import Step
from watchdog.core.alarms.lifecycle import advance as advance_one
from watchdog.core.alarms.people import acknowledge as acknowledge_one
from watchdog.core.alarms.people import shelve as shelve_one
from watchdog.core.alarms.people import unshelve as unshelve_one
from watchdog.core.alarms.standing import REST, Phase, Standing, announced, at_rest, silences
from watchdog.core.effects import Effect, Priority
from watchdog.core.events import Acknowledge, Shelve, Unshelve
from watchdog.core.finding import UNKNOWN, Evidence, Finding
from watchdog.core.moment import Moment

Table = Mapping[str, Alarm]
_Deed = TypeVar("_Deed", Acknowledge, Shelve, Unshelve)


@dataclass(frozen=True, slots=True)
class Book:
    """What is remembered about the alarms of one machine."""

    alarms: Mapping[str, Standing] = field(default_factory=dict)
    """by name; an alarm that has never been raised may be missing. Never changed in place."""


def advance(table: Table, book: Book, findings: Mapping[str, Finding], at: Moment) -> tuple[Book, tuple[Effect, ...]]:
    """One look at every condition. The same book comes back when nothing changed.

    `table` holds suppressors before what they suppress. A name without a finding is one that cannot be told.
    """
    if all_at_rest(book) and not any(finding.present for finding in findings.values()):
        return book, ()
    changed: dict[str, Standing] = {}
    said: list[Effect] = []
    silencers: dict[str, str] = {}
    for name, row in table.items():
        before, finding = book.alarms.get(name, REST), findings.get(name, UNKNOWN)
        if not finding.present and at_rest(before):
            continue
        grown = bool(row.grows_from) and _grown(row, finding, {**book.alarms, **changed})
        after, effects = advance_one(row, before, finding, silencers.get(name), at, grown=grown)
        said += effects
        if after != before:
            changed[name] = after
        if row.suppresses and silences(after):
            for follower in row.suppresses:
                silencers.setdefault(follower, name)
        if row.covers and after.phase is Phase.UNACKNOWLEDGED and after.shelf is None:
            for follower in row.covers:
                silencers.setdefault(follower, name)
    return Book({**book.alarms, **changed}) if changed else book, tuple(said)


def _grown(row: Alarm, finding: Finding, alarms: Mapping[str, Standing]) -> bool:
    """The incident stands already, people know of it, and it may be the same part."""
    part = _part(finding.evidence)
    for seed in row.grows_from:
        one = alarms.get(seed, REST)
        if announced(one) and one.told and one.shelf is None and (part is None or _part(one.evidence) in (None, part)):
            return True
    return False


def _part(evidence: Evidence) -> object:
    """The heater that is spoken of; None where none is named."""
    return evidence.get("heater") or evidence.get("sensor")


def all_at_rest(book: Book) -> bool:
    """Nothing stands, matures or is shelved: only a condition that is present can change the book."""
    for standing in book.alarms.values():  # noqa: SIM110 - a generator doubles the time, and this runs every second
        if standing.phase is not Phase.NORMAL or standing.shelf is not None:
            return False
    return True


def acknowledge(table: Table, book: Book, event: Acknowledge) -> tuple[Book, tuple[Effect, ...]]:
    """A person takes an alarm on. Nothing said: no such alarm, nothing standing, or taken already."""
    return _by_person(table, book, event, acknowledge_one)


def shelve(table: Table, book: Book, event: Shelve) -> tuple[Book, tuple[Effect, ...]]:
    """A person silences an alarm for a bounded time. Nothing said: no such alarm, or no such time."""
    return _by_person(table, book, event, shelve_one)


def unshelve(table: Table, book: Book, event: Unshelve) -> tuple[Book, tuple[Effect, ...]]:
    """A person ends a shelf early. Nothing said: no such alarm, or not shelved."""
    return _by_person(table, book, event, unshelve_one)


def _by_person(
    table: Table, book: Book, event: _Deed, deed: Callable[[Alarm, Standing, _Deed], Step]
) -> tuple[Book, tuple[Effect, ...]]:
    row = table.get(event.alarm)
    if row is None:
        return book, ()
    standing, said = deed(row, book.alarms.get(event.alarm, REST), event)
    return (Book({**book.alarms, event.alarm: standing}) if said else book), said


def standing(book: Book) -> tuple[tuple[str, Standing], ...]:
    """What a person should see: raised, returned but not acknowledged, shelved, or held back. Most pressing first."""
    shown = [(name, one) for name, one in book.alarms.items() if _to_be_seen(one)]
    pressing = list(Priority)
    return tuple(
        sorted(
            shown,
            key=lambda item: (
                pressing.index(item[1].priority) if item[1].priority else len(pressing),
                item[1].raised or Moment(0.0, 0.0),
                item[0],
            ),
        )
    )


def _to_be_seen(one: Standing) -> bool:
    return announced(one) or one.phase is Phase.RETURNED or one.shelf is not None or one.held_back
