"""Who would be told when, if an alarm were raised now and nobody answered: the engine itself, asked ahead of time."""

from typing import NamedTuple

from watchdog.core.effects import Priority, Tell, TellKind
from watchdog.core.moment import Moment
from watchdog.core.routing.engine import advance
from watchdog.core.routing.memory import Case, Memory
from watchdog.core.routing.plan import RoutingPlan
from watchdog.core.routing.reach import ladder_of
from watchdog.core.timetable import Timetable


class Step(NamedTuple):
    """What happens at one time."""

    after: float
    """s from the raising"""
    people: tuple[str, ...]
    """who hears of it for the first time; empty where the step only makes the reminders loud"""
    loud: bool
    """by all of their routes at once; from a loud step of the ladder on, the reminders to everybody before are so too"""
    not_before: float | None
    """stamp before which the message waits; None: at once"""
    why: tuple[str, ...]
    """of each of `people`"""


_ALARM = "explained"


def explain(plan: RoutingPlan, timetable: Timetable | None, priority: Priority, at: Moment) -> tuple[Step, ...]:
    """The steps in order, without the reminders between them. Empty: it is told to nobody, and stands in the log."""
    tell = Tell(at, TellKind.ALARM, _ALARM, 1, priority, at, 1, {}, None)
    times = sorted({0.0, *(max(0.0, rung.after) for rung in ladder_of(plan, priority).rungs)})
    memory, steps, loud = Memory(), list[Step](), False
    for after in times:
        now = Moment(at.elapsed + after, at.stamp + after)
        memory, orders = advance(plan, timetable, memory, (tell,) if after == times[0] else (), now)
        case: Case | None = memory.cases.get(_ALARM)
        louder = case is not None and case.loud and not loud
        loud = loud or louder
        by_wait: dict[tuple[bool, float | None], list[tuple[str, str]]] = {}
        for order in orders:
            by_wait.setdefault((order.loud, order.not_before), []).append((order.person, order.why))
        for (told_loudly, not_before), people in by_wait.items():
            names, reasons = zip(*people, strict=True)
            steps.append(Step(after, names, told_loudly, not_before, reasons))
        if louder and not orders and case is not None and case.told:
            steps.append(Step(after, (), True, None, ()))
    return tuple(steps)
