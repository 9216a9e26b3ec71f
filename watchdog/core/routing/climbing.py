"""What one message of the alarms sets going, and how a ladder is climbed. The rules stand in `engine`."""

from collections.abc import Iterable, Sequence
from itertools import chain

from watchdog.core.effects import Priority, Tell, TellKind
from watchdog.core.routing.memory import Case, Stage, anew
from watchdog.core.routing.plan import DUTY, takers
from watchdog.core.routing.reach import Reached, called_outside, ladder_of, on_duty_now, reached
from watchdog.core.routing.telling import Desk


def hear(desk: Desk, cases: dict[str, Case], tell: Tell) -> None:
    """One message of the alarms: whom it goes to, and what `cases` remember of it from now on."""
    case = cases.get(tell.alarm)
    if case is not None and case.occurrence != tell.occurrence:
        case = None
    if tell.kind is TellKind.NOTICE:
        desk.pass_on(tell, _unless_nobody(desk, tell.priority, _first(desk, tell.priority)))
    elif tell.kind is TellKind.ALL_CLEAR:
        if case is not None:
            desk.all_clear(case, tell)
        else:  # who was told is no longer known: better twice than not at all
            desk.pass_on(tell, [Reached(one.name, "may have been told") for one in takers(desk.plan, tell.priority)])
    elif case is None or tell.nth == 1:
        cases[tell.alarm] = _open(desk, tell, _in_the_know(cases) if tell.kind is TellKind.ESCALATED else ())
    else:
        cases[tell.alarm] = _again(desk, case, tell)


def _in_the_know(cases: dict[str, Case]) -> list[Reached]:
    """Who was told of what stands at this machine: one of these an alarm has grown from that is escalated as it is raised."""
    standing = [case for case in cases.values() if case.stage in (Stage.CLIMBING, Stage.TAKEN)]
    names = dict.fromkeys(one.person for case in standing for one in case.told if one.climbed)
    return [Reached(name, "was told of what it grew from") for name in names]


def _open(desk: Desk, tell: Tell, in_the_know: Sequence[Reached]) -> Case:
    """A first message. One that comes when others have gone before it (what was remembered is lost) counts from the raising."""
    since = desk.at.elapsed if tell.nth == 1 else min(tell.since.elapsed, desk.at.elapsed)
    case, before = Case(tell.occurrence, tell.priority, since, 0, Stage.CLIMBING, (), tell), len(desk.orders)
    return climb(desk, desk.demand(case, in_the_know, in_the_know=True), unless_since=before)


def _again(desk: Desk, case: Case, tell: Tell) -> Case:
    """It is said once more: reminder, graver than before, or back after somebody had it."""
    now, by, stage = desk.at.elapsed, case.by, case.stage
    so_far = [Reached(one.person, "told before") for one in case.told]
    graver = tell.kind is TellKind.ESCALATED or tell.priority is not case.priority
    case, before = case._replace(last=tell, priority=tell.priority), len(desk.orders)
    if graver:
        case = anew(case, now, keep_loud=True)
        so_far = [Reached(one.person, "has become graver") for one in case.told]
        return climb(desk, desk.demand(case, chain(so_far, called_outside(desk.plan, tell.priority, desk.here))))
    if stage is Stage.CLIMBING:
        since = [Reached(one.person, "told before") for one in case.told if one.climbed]
        return desk.demand(case, chain(since, _newly_there(desk, case)))
    case = anew(case, now, keep_loud=False)
    if stage is Stage.RETURNED:
        return climb(desk, desk.demand(case, so_far), unless_since=before)
    holder = [Reached(person.name, "took it on") for person in desk.plan.people if person.name == by]
    if desk.here.outside is True:
        holder = [one for one in holder if any(p.name == one.person and p.outside for p in desk.plan.people)]
    if not holder or tell.priority is Priority.URGENT:
        return climb(desk, desk.demand(case, holder), unless_since=before)
    rungs = ladder_of(desk.plan, tell.priority).rungs
    return desk.demand(case._replace(rung=sum(rung.after <= 0 for rung in rungs)), holder)


def _newly_there(desk: Desk, case: Case) -> Iterable[Reached]:
    """Who was not there at the raising, and now is the one to tell."""
    rungs = ladder_of(desk.plan, case.priority).rungs
    if any(rung.who == DUTY for rung in rungs[: case.rung]):
        yield from (Reached(name, "has come on duty") for name in on_duty_now(desk.plan, case.priority, desk.here)[:1])
    yield from called_outside(desk.plan, case.priority, desk.here)


def climb(desk: Desk, case: Case, *, unless_since: int | None = None) -> Case:
    """Every rung whose time has come. With `unless_since`, and no order beyond so many yet: further ones until somebody is
    reached."""
    rungs = ladder_of(desk.plan, case.priority).rungs
    while case.rung < len(rungs):
        rung = rungs[case.rung]
        if case.since + rung.after > desk.at.elapsed and len(desk.orders) != unless_since:
            return case
        known = frozenset(one.person for one in case.told if one.climbed)
        people = reached(desk.plan, case.priority, rung, desk.here, known)
        case = desk.demand(case._replace(rung=case.rung + 1, loud=case.loud or rung.loud), people)
    if len(desk.orders) == unless_since:
        return desk.demand(case, _unless_nobody(desk, case.priority, ()))
    return case


def _first(desk: Desk, priority: Priority) -> tuple[Reached, ...]:
    rungs = ladder_of(desk.plan, priority).rungs[:1]
    return tuple([one for rung in rungs for one in reached(desk.plan, priority, rung, desk.here, frozenset())])


def _unless_nobody(desk: Desk, priority: Priority, people: Sequence[Reached]) -> Sequence[Reached]:
    return people or [Reached(one.name, "nobody else is named") for one in takers(desk.plan, priority)]
