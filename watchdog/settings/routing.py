"""Who is told first and who comes next, in words: `first = "duty"`, `then = ["duty-warden after 10 min", …]`."""

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated, Literal

from pydantic import BeforeValidator, Field

from watchdog.core.effects import Priority
from watchdog.core.routing import Ladder, Lessons, Outside, Recipient, RoutingPlan, Rung, problems, usual_ladder
from watchdog.settings.base import Model
from watchdog.settings.problems import Problem, nearest, shown
from watchdog.settings.quantities import seconds

if TYPE_CHECKING:  # both import the model, which imports this
    from watchdog.settings.model import Settings
    from watchdog.settings.origin import Written

_STEP = re.compile(r"\s*(?P<who>\S+?)(?:\s+after\s+(?P<after>[^,]+?))?(?P<loud>\s*,\s*loud)?\s*\Z")
_FIRST = 'Write who is told at once: "duty", "everybody" or the name of a person, with ", loud" behind it if you like'
_THEN = 'Write it as "duty-warden after 10 min", or "everybody after 15 min, loud"'


def _first(written: object) -> object:
    if isinstance(written, Rung):
        return written
    found = _STEP.match(written) if isinstance(written, str) else None
    if found is None or found["after"] is not None:
        raise ValueError(f"is no first step. {_FIRST}")
    return Rung(found["who"], loud=found["loud"] is not None)


def _then(written: object) -> object:
    if isinstance(written, Rung):
        return written
    found = _STEP.match(written) if isinstance(written, str) else None
    if found is None or found["after"] is None:
        raise ValueError(f"is no further step. {_THEN}")
    try:
        after = seconds(found["after"])
    except ValueError:
        raise ValueError(f"is no further step: its time cannot be read. {_THEN}") from None
    return Rung(found["who"], float(str(after)), found["loud"] is not None)


class Steps(Model):
    """How the alarms of one priority are told; what is left out is as usual."""

    first: Annotated[Rung, BeforeValidator(_first)] | None = None
    """who is told at once: 'duty' (who is on duty by the timetable, else the first in line), 'everybody', or a person"""
    then: tuple[Annotated[Rung, BeforeValidator(_then)], ...] | None = None
    """who comes next while nobody answers: 'duty', 'next' (in line and not told yet), 'everybody' or a person, and how long
    after the raising; 'loud' means all of a person's routes at the same time"""
    lessons: Literal["at once", "wait"] | None = None
    """whether a message waits for the break while whoever is told teaches; low alarms only"""
    outside: Literal["named", "ladder", "wait"] | None = None
    """who is told outside the supervised hours: those who take calls then, the same steps, or (low alarms) nobody before the
    next hours"""


class Routing(Model):
    """Who is told when."""

    outside: tuple[str, ...] = ()
    """people who take calls outside the supervised hours; with nobody named everybody does"""
    urgent: Steps = Field(default_factory=Steps)
    high: Steps = Field(default_factory=Steps)
    low: Steps = Field(default_factory=Steps)


def plan_of(settings: "Settings") -> RoutingPlan:
    """Who is told when, from the people and what is said of their order."""
    routing = settings.routing
    people = RoutingPlan(
        tuple([Recipient(name, one.told, name in routing.outside) for name, one in settings.people.items()])
    )
    return RoutingPlan(
        people.people, {priority: _ladder(getattr(routing, priority), people, priority) for priority in Priority}
    )


def _ladder(steps: Steps, plan: RoutingPlan, priority: Priority) -> Ladder:
    usual = usual_ladder(plan, priority)
    first = usual.rungs[0] if steps.first is None else steps.first
    return Ladder(
        (first, *(usual.rungs[1:] if steps.then is None else steps.then)),
        usual.lessons if steps.lessons is None else Lessons(steps.lessons),
        usual.outside if steps.outside is None else Outside(steps.outside),
    )


def mistakes(written: "Written", settings: "Settings") -> Iterator[Problem]:
    """What cannot be followed. Not judged while a person's own table is wrong: whoever is missing there is told of already."""
    named = written.merged.get("people", {})
    if not isinstance(named, dict) or set(named) != set(settings.people):
        return
    for name in settings.routing.outside:
        if name not in settings.people:
            hint = nearest(name, settings.people) if settings.people else "Add a table [people.NAME] with the routes."
            yield Problem(written.place(["routing", "outside"]), f"there is nobody called {shown(name)}. {hint}")
    for fault in problems(plan_of(settings)):
        path = ["people"] if fault.place == ("people",) else ["routing", *(p for p in fault.place if p != "rungs")]
        yield Problem(written.place(path), f"{fault.sentence}.")
