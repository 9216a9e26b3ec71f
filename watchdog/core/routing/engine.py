"""From what a step said to who is told: `advance(plan, timetable, memory, effects, at) -> (memory, orders)`.

    the alarms say           what the routing does
    alarm                    the ladder begins: its rungs at 0
    nothing                  the next rung when its time has come, while nobody has taken the alarm on
    reminder                 everybody told since the ladder began, and who has come on duty since
    escalated                everybody told so far, and the ladder of the higher priority from its start
    escalated as it begins   the same, with everybody told of what stands at this machine: it grew from one of these
    acknowledged, shelved    the ladder ends
    returned, cleared        the ladder ends
    reminder after any       the ladder begins anew (see below)
    all-clear                everybody who was told
    notice                   the first rung, once and at once: somebody asked for this very moment
    in service again         every ladder that rested meanwhile begins anew; who was told before is not told twice

- **Told again after somebody took it on** (or put it aside): that person is asked in place of the first rung, since they know
  the matter and are most likely at it; anybody else would be sent after them. If they do not answer, the ladder goes on;
  if they are not there now (outside the hours, and they take no calls) it begins as ever. An urgent one goes to both.
- Every urgent or high alarm reaches somebody in the step that raised it: a rung that reaches nobody gives way to the next.
- While an alarm stands that suppresses another one, the other's ladder rests (as its reminders do), and so do all while the
  machine is out of service. Urgent ones never rest.
- Outside the hours an urgent alarm also finds those who take calls then, whenever it is said again: who was told in the
  afternoon has gone home.
- Durations are `elapsed`; `stamp` only asks the timetable. So a stepped clock moves no rung.
"""

from collections.abc import Iterable, Sequence

from watchdog.core.effects import AlarmChanged, Effect, Noted, Priority, Tell, Transition
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.routing.climbing import climb, hear
from watchdog.core.routing.memory import Case, Memory, Stage, anew, withdrawn
from watchdog.core.routing.plan import RoutingPlan
from watchdog.core.routing.reach import ladder_of
from watchdog.core.routing.telling import Desk
from watchdog.core.timetable import Timetable

IN_SERVICE = "in-service"
"""the note that a machine is back from its repair"""
_STAGES = {
    Transition.ACKNOWLEDGED: Stage.TAKEN,
    Transition.SHELVED: Stage.SHELVED,
    Transition.CLEARED: Stage.CLEARED,
}


def advance(
    plan: RoutingPlan,
    timetable: Timetable | None,
    memory: Memory,
    effects: Sequence[Effect],
    at: Moment,
    *,
    out_of_service: bool = False,
) -> tuple[Memory, tuple[Order, ...]]:
    """Who is told because of `effects`, or because nobody has answered until `at`. The same memory comes back when nothing
    changed. `effects` hold nothing of alarms that the house wants recorded only, and while the machine is `out_of_service` no
    message that is not urgent."""
    if not effects and (memory.due is None or at.elapsed < memory.due):
        return memory, ()
    desk = Desk(plan, timetable, at)
    cases = dict(memory.cases)
    for effect in effects:
        if isinstance(effect, Tell):
            hear(desk, cases, effect)
        elif isinstance(effect, AlarmChanged):
            _follow(cases, effect)
        elif isinstance(effect, Noted) and effect.kind == "let-go":
            cases.pop(str(effect.facts.get("alarm")), None)
        elif isinstance(effect, Noted) and effect.kind == IN_SERVICE:
            cases = {alarm: _rested(case, at.elapsed) for alarm, case in cases.items()}
    cases = {alarm: case for alarm, case in cases.items() if case.stage is not Stage.CLEARED}
    resting = _resting(plan, cases, everything=out_of_service)
    cases = {
        alarm: climb(desk, case) if case.stage is Stage.CLIMBING and alarm not in resting else case
        for alarm, case in cases.items()
    }
    due = min(
        (when for alarm, case in cases.items() for when in _due(plan, case) if alarm not in resting), default=None
    )
    if due == memory.due and cases == memory.cases:
        return memory, tuple(desk.orders)
    return Memory(cases, due), tuple(desk.orders)


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


def _rested(case: Case, now: float) -> Case:
    rests = case.stage is Stage.CLIMBING and case.priority is not Priority.URGENT
    return anew(case, now, keep_loud=True) if rests else case


def _resting(plan: RoutingPlan, cases: dict[str, Case], *, everything: bool) -> set[str]:
    """Alarms that only follow from one that stands; with `everything` all. Urgent ones never."""
    followers = (
        set(cases)
        if everything
        else {
            name
            for alarm, case in cases.items()
            if case.stage in (Stage.CLIMBING, Stage.TAKEN)
            for name in plan.followers.get(alarm, ())
        }
    )
    return {name for name in followers if name in cases and cases[name].priority is not Priority.URGENT}


def _due(plan: RoutingPlan, case: Case) -> Iterable[float]:
    rungs = ladder_of(plan, case.priority).rungs
    if case.stage is Stage.CLIMBING and case.rung < len(rungs):
        yield case.since + rungs[case.rung].after
