"""The steps of an alarm's life, each kept, and where each occurrence stands."""

from typing import Final

from watchdog.core.effects import AlarmChanged, Noted, Transition
from watchdog.core.moment import Moment
from watchdog.record import incidents
from watchdog.record.notes import note
from watchdog.record.pen import Pen, facts_text

CAME_BACK: Final = "came-back"
"""kind of the note that a returned, latched alarm's condition is present again: the same occurrence, so no transition"""


def write(pen: Pen, machine: str, change: AlarmChanged) -> None:
    """Record one step. A step of an occurrence that is not known here is kept without one."""
    alarm = _occurrence(pen, machine, change)
    if change.transition is Transition.RAISED and alarm is None:
        alarm = _raise(pen, machine, change)
    fresh = pen.run(
        "INSERT INTO transition (alarm, machine, name, occurrence, transition, priority, evidence, by_whom, how, note,"
        " elapsed, stamp) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
        " ON CONFLICT (machine, name, occurrence, transition, elapsed, stamp) DO NOTHING",
        alarm,
        machine,
        change.alarm,
        change.occurrence,
        change.transition.value,
        change.priority.value,
        facts_text(change.evidence),
        change.by,
        change.how,
        change.note,
        *change.at,
    )
    if fresh and alarm is not None:
        _advance(pen, alarm, change)


def _occurrence(pen: Pen, machine: str, change: AlarmChanged) -> int | None:
    """The row of the occurrence that `change` speaks of. A raising is its own: only a replayed one finds its row."""
    if change.transition is Transition.RAISED:
        row = pen.one(
            "SELECT id FROM alarm WHERE machine = ? AND name = ? AND occurrence = ? AND raised = ?",
            machine,
            change.alarm,
            change.occurrence,
            change.at.stamp,
        )
    else:
        row = pen.one(
            "SELECT id FROM alarm WHERE machine = ? AND name = ? AND occurrence = ? ORDER BY id DESC LIMIT 1",
            machine,
            change.alarm,
            change.occurrence,
        )
    return None if row is None else int(row[0])


def _raise(pen: Pen, machine: str, change: AlarmChanged) -> int:
    incident = incidents.for_alarm(pen, machine, change.at)
    # An earlier occurrence that was never seen to end has ended: an alarm stands once.
    pen.run(
        "UPDATE alarm SET let_go = ? WHERE machine = ? AND name = ? AND cleared IS NULL AND let_go IS NULL",
        change.at.stamp,
        machine,
        change.alarm,
    )
    return pen.add(
        "INSERT INTO alarm (incident, machine, name, occurrence, priority, evidence, raised, raised_elapsed)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        incident,
        machine,
        change.alarm,
        change.occurrence,
        change.priority.value,
        facts_text(change.evidence),
        change.at.stamp,
        change.at.elapsed,
    )


def _advance(pen: Pen, alarm: int, change: AlarmChanged) -> None:
    if change.transition is Transition.ACKNOWLEDGED:
        pen.run(
            "UPDATE alarm SET acknowledged = ?, acknowledged_by = ?, acknowledged_how = ?"
            " WHERE id = ? AND acknowledged IS NULL",
            change.at.stamp,
            change.by,
            change.how,
            alarm,
        )
    elif change.transition is Transition.RETURNED:
        pen.run(
            "UPDATE alarm SET returned = ?, priority = ? WHERE id = ?", change.at.stamp, change.priority.value, alarm
        )
    elif change.transition is Transition.CLEARED:
        pen.run(
            "UPDATE alarm SET cleared = ?, returned = coalesce(returned, ?), priority = ? WHERE id = ?",
            change.at.stamp,
            change.at.stamp,
            change.priority.value,
            alarm,
        )
    elif change.transition is Transition.ESCALATED:
        pen.run("UPDATE alarm SET priority = ? WHERE id = ?", change.priority.value, alarm)
        _present_again(pen, alarm)
    if change.transition in (Transition.RETURNED, Transition.CLEARED):
        row = pen.one("SELECT incident FROM alarm WHERE id = ?", alarm)
        if row is not None:
            incidents.after_return(pen, row[0], change.at)


def came_back(pen: Pen, machine: str, noted: Noted) -> None:
    """The condition of a returned alarm is present again: its incident goes on."""
    row = pen.one(
        "SELECT id FROM alarm WHERE machine = ? AND name = ? AND occurrence = ? ORDER BY id DESC LIMIT 1",
        machine,
        noted.facts.get("alarm"),
        noted.facts.get("occurrence"),
    )
    if row is not None:
        _present_again(pen, row[0])


def _present_again(pen: Pen, alarm: int) -> None:
    again = pen.run(
        "UPDATE alarm SET returned = NULL WHERE id = ? AND returned IS NOT NULL AND cleared IS NULL AND let_go IS NULL",
        alarm,
    )
    if again:
        pen.run(
            "UPDATE incident SET quiet = NULL, quiet_elapsed = NULL WHERE id = (SELECT incident FROM alarm WHERE id = ?)",
            alarm,
        )


def let_go(pen: Pen, machine: str, at: Moment, why: str) -> int:
    """End what still stands of `machine` without having been seen to end; how many alarms that were."""
    standing = pen.all(
        "SELECT id, incident, name, occurrence FROM alarm WHERE machine = ? AND cleared IS NULL AND let_go IS NULL",
        machine,
    )
    for row, incident, name, occurrence in standing:
        pen.run("UPDATE alarm SET let_go = ? WHERE id = ?", at.stamp, row)
        incidents.after_return(pen, incident, at)
        note(pen, machine, Noted(at, "let-go", {"alarm": name, "occurrence": occurrence, "why": why}))
    return len(standing)
