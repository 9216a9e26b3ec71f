"""How each effect goes into the record. A batch that is committed a second time changes nothing."""

from watchdog.core.effects import AlarmChanged, Effect, JobChanged, Noted, StateChanged, Tell
from watchdog.core.finding import Evidence
from watchdog.record import alarms, blindness, jobs
from watchdog.record.notes import note
from watchdog.record.pen import Pen


def write_effect(pen: Pen, machine: str, effect: Effect, *, keep_names: bool) -> None:
    """Record `effect`; a `Tell` becomes parcels elsewhere (`outbox.put`)."""
    if isinstance(effect, AlarmChanged):
        alarms.write(pen, machine, effect)
    elif isinstance(effect, StateChanged):
        fresh = pen.run(
            "INSERT INTO state_change (machine, axis, before, after, elapsed, stamp) VALUES (?, ?, ?, ?, ?, ?)"
            " ON CONFLICT (machine, elapsed, axis, before, after, stamp) DO NOTHING",
            machine,
            effect.axis,
            effect.before,
            effect.after,
            *effect.at,
        )
        if fresh:
            blindness.link_changed(pen, machine, effect)
    elif isinstance(effect, JobChanged):
        jobs.write(pen, machine, effect, keep_names=keep_names)
    elif isinstance(effect, Noted):
        if not note(pen, machine, effect):
            return
        if effect.kind == alarms.CAME_BACK:
            alarms.came_back(pen, machine, effect)
        elif effect.kind == blindness.BLIND:
            blindness.was_off(pen, machine, effect)


def write_untold(pen: Pen, machine: str, tell: Tell) -> None:
    """Record that a message had nobody to go to: it must not vanish without a trace."""
    facts: Evidence = {"alarm": tell.alarm, "occurrence": tell.occurrence, "message": tell.kind.value, "nth": tell.nth}
    note(pen, machine, Noted(tell.at, "told-nobody", facts))
