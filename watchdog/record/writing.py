"""How each effect goes into the record. A batch that is committed a second time changes nothing."""

from watchdog.core.effects import AlarmChanged, Effect, JobChanged, Noted, StateChanged, Tell
from watchdog.core.finding import Evidence
from watchdog.record import alarms, jobs
from watchdog.record.notes import note
from watchdog.record.pen import Pen


def write_effect(pen: Pen, machine: str, effect: Effect) -> None:
    """Record `effect`; a `Tell` becomes parcels elsewhere (`outbox.put`)."""
    if isinstance(effect, AlarmChanged):
        alarms.write(pen, machine, effect)
    elif isinstance(effect, StateChanged):
        pen.run(
            "INSERT INTO state_change (machine, axis, before, after, elapsed, stamp) VALUES (?, ?, ?, ?, ?, ?)"
            " ON CONFLICT (machine, elapsed, axis, before, after, stamp) DO NOTHING",
            machine,
            effect.axis,
            effect.before,
            effect.after,
            *effect.at,
        )
    elif isinstance(effect, JobChanged):
        jobs.write(pen, machine, effect)
    elif isinstance(effect, Noted):
        fresh = note(pen, machine, effect)
        if fresh and effect.kind == alarms.CAME_BACK:
            alarms.came_back(pen, machine, effect)


def write_untold(pen: Pen, machine: str, tell: Tell) -> None:
    """Record that a message had nobody to go to: it must not vanish without a trace."""
    facts: Evidence = {"alarm": tell.alarm, "occurrence": tell.occurrence, "message": tell.kind.value, "nth": tell.nth}
    note(pen, machine, Noted(tell.at, "told-nobody", facts))
