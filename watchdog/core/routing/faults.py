"""What makes a plan unfit to be followed, each with its remedy."""

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from math import isfinite
from typing import NamedTuple

from watchdog.core.effects import Priority
from watchdog.core.routing.plan import EVERYBODY, WORDS, Ladder, Lessons, Outside, RoutingPlan, takers


class Fault(NamedTuple):
    """One thing that is wrong."""

    place: tuple[str, ...]
    """('people',), or a priority, and below it 'rungs', 'lessons' or 'outside'"""
    sentence: str
    """what is wrong and what would be right"""

    def __str__(self) -> str:
        return f"{'.'.join(self.place)}: {self.sentence}"


def problems(plan: RoutingPlan) -> tuple[Fault, ...]:
    """Everything that is wrong with `plan`; empty when nothing is. A plan without people is sound: it tells nobody."""
    return (*_of_people(plan), *(fault for priority in Priority for fault in _of_ladder(plan, priority)))


def _of_people(plan: RoutingPlan) -> Iterator[Fault]:
    for name, times in Counter(person.name for person in plan.people).items():
        if times > 1:
            yield Fault(("people",), f"{name} stands there {times} times. Keep one")
        if name in WORDS:
            yield Fault(("people",), f"{name} has a meaning of its own in a ladder. Give that person another name")


def _of_ladder(plan: RoutingPlan, priority: Priority) -> Iterator[Fault]:
    ladder = plan.ladders.get(priority)
    if ladder is None or not ladder.rungs:
        yield Fault((priority,), "has no step. Say who is told first")
        return
    rungs = (priority, "rungs")
    low = priority is Priority.LOW
    if any(not isfinite(rung.after) or rung.after < 0 for rung in ladder.rungs):
        yield Fault(rungs, "a time is below 0 or no number. Write the time since the raising")
    elif ladder.rungs[0].after != 0:
        yield Fault(rungs, f"the first step comes after {ladder.rungs[0].after:g} s. Somebody must be told at once")
    for before, after in pairwise(ladder.rungs):
        if after.after <= before.after:
            yield Fault(
                rungs, f"{after.who} does not come later than {before.who}. Put the steps in order of their times"
            )
    yield from _of_names(plan, priority, ladder)
    if not low and len(takers(plan, priority)) > 1 and ladder.rungs[-1].who != EVERYBODY:
        remedy = f'End it with "{EVERYBODY} after …, loud", so that it goes on when nobody answers'
        yield Fault(rungs, f"the last step is {ladder.rungs[-1].who}. {remedy}")
    if not low and ladder.lessons is Lessons.WAIT:
        yield Fault((priority, "lessons"), "only low alarms may wait for the break. Choose at once")
    if not low and ladder.outside is Outside.WAIT:
        yield Fault((priority, "outside"), "only low alarms may wait for the next hours. Choose named or ladder")


def _of_names(plan: RoutingPlan, priority: Priority, ladder: Ladder) -> Iterator[Fault]:
    able = {person.name for person in takers(plan, priority)}
    known = {person.name for person in plan.people}
    for name, times in Counter(rung.who for rung in ladder.rungs).items():
        if name not in WORDS and name not in known:
            names = ", ".join([*WORDS, *sorted(known)])
            yield Fault((priority, "rungs"), f"there is nobody called {name}. Write one of: {names}")
        elif name not in WORDS and name not in able:
            yield Fault(
                (priority, "rungs"), f"{name} is not told {priority} alarms. Add {priority} to told, or name another"
            )
        elif name not in WORDS and times > 1:
            yield Fault(
                (priority, "rungs"), f"{name} comes {times} times. Once is enough: reminders follow by themselves"
            )
    callable_ = {person.name for person in plan.people if person.outside}
    if ladder.outside is Outside.NAMED and callable_ and not callable_ & able:
        who = ", ".join(sorted(callable_))
        yield Fault(
            (priority, "outside"), f"none of those who take calls ({who}) is told {priority} alarms. Name one who is"
        )
