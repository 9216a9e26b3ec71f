"""From what a step said to who is told: `advance(plan, timetable, memory, effects, at) -> (memory, orders)`.

    the alarms say           what the routing does
    alarm                    the ladder begins: its rungs at 0
    nothing                  the next rung when its time has come, while nobody has taken the alarm on
    reminder                 everybody told since the ladder began, and who has come on duty since
    escalated                everybody told so far, and the ladder of the higher priority from its start
    acknowledged, shelved    the ladder ends
    returned, cleared        the ladder ends
    reminder after any       the ladder begins anew (see below)
    all-clear                everybody who was told
    notice                   the first rung, once and at once: somebody asked for this very moment

- **Told again after somebody took it on** (or put it aside): that person is asked in place of the first rung, since they know
  the matter and are most likely at it; anybody else would be sent after them. If they do not answer, the ladder goes on;
  if they are not there now (outside the hours, and they take no calls) it begins as ever. An urgent one goes to both.
- Every urgent or high alarm reaches somebody in the step that raised it: a rung that reaches nobody gives way to the next.
- While an alarm stands that suppresses another one, the other's ladder rests (as its reminders do). Urgent ones never rest.
- Outside the hours an urgent alarm also finds those who take calls then, whenever it is said again: who was told in the
  afternoon has gone home.
- Durations are `elapsed`; `stamp` only asks the timetable. So a stepped clock moves no rung.
"""

from collections.abc import Iterable, Sequence
from itertools import chain

from watchdog.core.effects import AlarmChanged, Effect, Noted, Priority, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.routing.memory import Case, Memory, Stage, anew, withdrawn
from watchdog.core.routing.plan import DUTY, RoutingPlan, Rung, takers
from watchdog.core.routing.reach import Reached, called_outside, ladder_of, on_duty_now, reached
from watchdog.core.routing.telling import Desk
from watchdog.core.timetable import Timetable

_STAGES = {
    Transition.ACKNOWLEDGED: Stage.TAKEN,
    Transition.SHELVED: Stage.SHELVED,
    Transition.CLEARED: Stage.CLEARED,
}


def advance(
    plan: RoutingPlan, timetable: Timetable | None, memory: Memory, effects: Sequence[Effect], at: Moment
) -> tuple[Memory, tuple[Order, ...]]:
    """Who is told because of `effects`, or because nobody has answered until `at`. The same memory comes back when nothing
    changed. `effects` hold nothing of alarms that the house wants recorded only."""
    if not effects and (memory.due is None or at.elapsed < memory.due):
        return memory, ()
    desk = Desk(plan, timetable, at)
    cases = dict(memory.cases)
    for effect in effects:
        if isinstance(effect, Tell):
            _hear(desk, cases, effect)
        elif isinstance(effect, AlarmChanged):
            _follow(cases, effect)
        elif isinstance(effect, Noted) and effect.kind == "let-go":
            cases.pop(str(effect.facts.get("alarm")), None)
    cases = {alarm: case for alarm, case in cases.items() if case.stage is not Stage.CLEARED}
    resting = _resting(plan, cases)
    cases = {
        alarm: _climb(desk, case) if case.stage is Stage.CLIMBING and alarm not in resting else case
        for alarm, case in cases.items()
    }
    due = min(
        (when for alarm, case in cases.items() for when in _due(plan, case) if alarm not in resting), default=None
    )
    if due == memory.due and cases == memory.cases:
        return memory, tuple(desk.orders)
    return Memory(cases, due), tuple(desk.orders)


def _hear(desk: Desk, cases: dict[str, Case], tell: Tell) -> None:
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
        cases[tell.alarm] = _open(desk, tell)
    else:
        cases[tell.alarm] = _again(desk, case, tell)


def _open(desk: Desk, tell: Tell) -> Case:
    """A first message. One that comes when others have gone before it (what was remembered is lost) counts from the raising."""
    since = desk.at.elapsed if tell.nth == 1 else min(tell.since.elapsed, desk.at.elapsed)
    case = Case(tell.occurrence, tell.priority, since, 0, Stage.CLIMBING, (), tell)
    return _climb(desk, case, unless_since=len(desk.orders))


def _again(desk: Desk, case: Case, tell: Tell) -> Case:
    """It is said once more: reminder, graver than before, or back after somebody had it."""
    now, by, stage = desk.at.elapsed, case.by, case.stage
    so_far = [Reached(one.person, "told before") for one in case.told]
    graver = tell.kind is TellKind.ESCALATED or tell.priority is not case.priority
    case, before = case._replace(last=tell, priority=tell.priority), len(desk.orders)
    if graver:
        case = anew(case, now, keep_loud=True)
        so_far = [Reached(one.person, "has become graver") for one in case.told]
        return _climb(desk, desk.demand(case, chain(so_far, called_outside(desk.plan, tell.priority, desk.here))))
    if stage is Stage.CLIMBING:
        since = [Reached(one.person, "told before") for one in case.told if one.climbed]
        return desk.demand(case, chain(since, _newly_there(desk, case)))
    case = anew(case, now, keep_loud=False)
    if stage is Stage.RETURNED:
        return _climb(desk, desk.demand(case, so_far), unless_since=before)
    holder = [Reached(person.name, "took it on") for person in desk.plan.people if person.name == by]
    if desk.here.outside is True:
        holder = [one for one in holder if any(p.name == one.person and p.outside for p in desk.plan.people)]
    if not holder or tell.priority is Priority.URGENT:
        return _climb(desk, desk.demand(case, holder), unless_since=before)
    rungs = ladder_of(desk.plan, tell.priority).rungs
    return desk.demand(case._replace(rung=sum(rung.after <= 0 for rung in rungs)), holder)


def _newly_there(desk: Desk, case: Case) -> Iterable[Reached]:
    """Who was not there at the raising, and now is the one to tell."""
    rungs = ladder_of(desk.plan, case.priority).rungs
    if any(rung.who == DUTY for rung in rungs[: case.rung]):
        yield from (Reached(name, "has come on duty") for name in on_duty_now(desk.plan, case.priority, desk.here)[:1])
    yield from called_outside(desk.plan, case.priority, desk.here)


def _climb(desk: Desk, case: Case, *, unless_since: int | None = None) -> Case:
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
    rungs: tuple[Rung, ...] = ladder_of(desk.plan, priority).rungs[:1]
    return tuple([one for rung in rungs for one in reached(desk.plan, priority, rung, desk.here, frozenset())])


def _unless_nobody(desk: Desk, priority: Priority, people: Sequence[Reached]) -> Sequence[Reached]:
    return people or [Reached(one.name, "nobody else is named") for one in takers(desk.plan, priority)]


def _follow(cases: dict[str, Case], change: AlarmChanged) -> None:
    case = cases.get(change.alarm)
    if case is None or case.occurrence != change.occurrence:
        return
    stage = _STAGES.get(change.transition, case.stage)
    if change.transition is Transition.RETURNED and case.stage is Stage.CLIMBING:
        stage = Stage.RETURNED
    by = (change.by or "") if stage in (Stage.TAKEN, Stage.SHELVED) and stage is not case.stage else case.by
    case = case._replace(stage=stage, by=by)
    ended = change.transition in (Transition.ACKNOWLEDGED, Transition.CLEARED)
    cases[change.alarm] = withdrawn(case, change.at.stamp) if ended else case


def _resting(plan: RoutingPlan, cases: dict[str, Case]) -> set[str]:
    """Alarms that only follow from one that stands."""
    followers = {
        name
        for alarm, case in cases.items()
        if case.stage in (Stage.CLIMBING, Stage.TAKEN)
        for name in plan.followers.get(alarm, ())
    }
    return {name for name in followers if name in cases and cases[name].priority is not Priority.URGENT}


def _due(plan: RoutingPlan, case: Case) -> Iterable[float]:
    rungs = ladder_of(plan, case.priority).rungs
    if case.stage is Stage.CLIMBING and case.rung < len(rungs):
        yield case.since + rungs[case.rung].after
