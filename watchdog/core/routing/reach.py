"""Whom a rung reaches at one moment, and until when a message to them waits."""

from typing import NamedTuple

from watchdog.core.effects import Priority
from watchdog.core.routing.plan import DUTY, EVERYBODY, NEXT, Ladder, Lessons, Outside, RoutingPlan, Rung, takers
from watchdog.core.timetable import Kind, Presence, Timetable, presence


class Scene(NamedTuple):
    """Who is there, as far as the routing asks."""

    outside: bool | None
    """outside the supervised hours; None when the timetable cannot be relied on. False where no hours are named at all"""
    again: float | None
    """stamp at which somebody is there again; None when somebody is, or when that is not known"""
    again_free: float | None
    """stamp at which that somebody teaches no longer: the day may open with a lesson"""
    break_at: float | None
    """stamp at which the present lesson is over; None outside lessons"""
    on_duty: tuple[str, ...]


class Reached(NamedTuple):
    """One person and the reason."""

    person: str
    why: str
    loud: bool = False


ANY_TIME = Scene(False, None, None, None, ())


def scene(timetable: Timetable | None, stamp: float) -> Scene:
    """Who is there at `stamp`."""
    if timetable is None:
        return ANY_TIME
    here: Presence = presence(timetable, stamp)
    if here.trouble is not None:
        return Scene(None, None, None, None, here.on_duty)
    hours = timetable.week is not None or any(period.kind is Kind.SUPERVISED for period in timetable.periods)
    outside = hours and not here.supervised
    then = None if here.next is None else presence(timetable, here.next)
    free = then.lesson_until if then is not None and then.lesson else here.next
    return Scene(outside, here.next, free, here.lesson_until if here.lesson else None, here.on_duty)


def ladder_of(plan: RoutingPlan, priority: Priority) -> Ladder:
    """The ladder of `priority`; of a plan that lacks it, everybody at once."""
    return plan.ladders.get(priority) or Ladder((Rung(EVERYBODY),))


def waits_until(ladder: Ladder, priority: Priority, here: Scene) -> float | None:
    """Stamp before which a message waits; None: it goes out at once. Urgent and high ones never wait, whatever a plan says."""
    if priority is not Priority.LOW:
        return None
    in_lessons = ladder.lessons is Lessons.WAIT
    if ladder.outside is Outside.WAIT and here.outside:
        return here.again_free if in_lessons else here.again
    return here.break_at if in_lessons else None


def called_outside(plan: RoutingPlan, priority: Priority, here: Scene) -> tuple[Reached, ...]:
    """Who is called because nobody need be in the building; empty in the hours.

    When the hours cannot be told, those who take calls are told beside those on duty.
    """
    if ladder_of(plan, priority).outside is not Outside.NAMED or here.outside is False:
        return ()
    able = takers(plan, priority)
    named = [person for person in able if person.outside]
    if not named and here.outside:
        return tuple([Reached(person.name, "outside the hours, and nobody is named for them", True) for person in able])
    return tuple([Reached(person.name, "takes calls outside the hours", True) for person in named])


def on_duty_now(plan: RoutingPlan, priority: Priority, here: Scene) -> tuple[str, ...]:
    """People on duty who take this priority, first in line first."""
    able = {person.name for person in takers(plan, priority)}
    return tuple([name for name in here.on_duty if name in able])


def reached(
    plan: RoutingPlan, priority: Priority, rung: Rung, here: Scene, known: frozenset[str]
) -> tuple[Reached, ...]:
    """Whom `rung` reaches. `known` are those whom this ladder has told already."""
    first = rung.after <= 0
    called = called_outside(plan, priority, here)
    why = "first in line" if first else f"nobody answered for {_minutes(rung.after)}"
    if (
        first and called and here.outside
    ):  # the building is empty: only a duty that the timetable names is told beside them
        return (*called, *(Reached(name, "on duty") for name in on_duty_now(plan, priority, here)[:1]))
    duty, able = on_duty_now(plan, priority, here), [person.name for person in takers(plan, priority)]
    if rung.who == EVERYBODY:
        names = tuple(able)
    elif rung.who == DUTY:
        names = duty[:1] or tuple(able[:1])
        why = "on duty" if duty and first else why
    elif rung.who == NEXT:
        names = tuple([name for name in dict.fromkeys([*duty, *able]) if name not in known][:1])
    else:
        names = tuple([person.name for person in plan.people if person.name == rung.who])
    return (*(Reached(name, why, rung.loud) for name in names), *called)


def _minutes(seconds: float) -> str:
    return f"{seconds / 60:.0f} min" if seconds >= 60 else f"{seconds:.0f} s"
