"""Orders of one step, and how they are entered into what is remembered of an occurrence."""

from collections.abc import Iterable

from watchdog.core.effects import Tell, TellKind
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.routing.memory import Case, Told, heard, told
from watchdog.core.routing.plan import RoutingPlan
from watchdog.core.routing.reach import Reached, Scene, ladder_of, scene, waits_until
from watchdog.core.timetable import Timetable


class Desk:
    """Where the orders of one step are collected. It lives for one `advance`; the timetable is asked once, if at all."""

    def __init__(self, plan: RoutingPlan, timetable: Timetable | None, at: Moment) -> None:
        self.plan = plan
        self.at = at
        self.orders: list[Order] = []
        self._timetable = timetable
        self._here: Scene | None = None

    @property
    def here(self) -> Scene:
        """Who is there now."""
        if self._here is None:
            self._here = scene(self._timetable, self.at.stamp)
        return self._here

    def demand(self, case: Case, people: Iterable[Reached], *, in_the_know: bool = False) -> Case:
        """Tell `people` the latest demand of `case`, each once. Whoever still waits for an earlier message of the same priority
        gets that one; whoever has had this very demand is told louder with the next one. `in_the_know`: they have heard of
        the incident by another alarm."""
        for one in people:
            case = self._demand(case, one, in_the_know)
        return case

    def _demand(self, case: Case, one: Reached, in_the_know: bool) -> Case:
        before, tell = told(case, one.person), case.last
        loud = one.loud or case.loud or (before is not None and before.loud)
        not_before = waits_until(ladder_of(self.plan, case.priority), case.priority, self.here)
        if before is not None and before.nth == tell.nth:
            return _entered(case, before._replace(climbed=True))
        if before is not None and before.waits is not None and not_before is not None and self.at.stamp < before.waits:
            return _entered(case, before._replace(climbed=True))
        times = 0 if before is None else before.times
        self.orders.append(
            Order(self._worded(tell, first=times == 0 and not in_the_know), one.person, not_before, loud, one.why)
        )
        earlier = before is not None and heard(before, self.at.stamp)
        return _entered(case, Told(one.person, times + 1, tell.nth, loud, True, not_before, earlier))

    def _worded(self, tell: Tell, *, first: bool) -> Tell:
        """The demand as of now: to whoever hears of it for the first time it is no reminder."""
        late = self.at.elapsed - tell.at.elapsed
        left = None if tell.next_at is None else max(0.0, tell.next_at - late)
        return tell._replace(at=self.at, kind=TellKind.ALARM if first else tell.kind, next_at=left)

    def all_clear(self, case: Case, tell: Tell) -> None:
        """Everybody who was told hears that it is over.

        It calls back whoever is on the way, so it goes out at once. Once somebody has taken the alarm on nobody else is on the
        way: then it waits for the break. It never comes before a message that still waits, so that both become one.
        """
        quiet = waits_until(ladder_of(self.plan, case.priority), case.priority, self.here)
        if case.by is not None and quiet is None:
            quiet = self.here.break_at
        for one in case.told:
            waiting = one.waits if one.waits is not None and one.waits > self.at.stamp else None
            times = [stamp for stamp in (quiet, waiting) if stamp is not None]
            self.orders.append(Order(tell, one.person, max(times, default=None), False, "was told of it"))

    def pass_on(self, tell: Tell, people: Iterable[Reached], not_before: float | None = None) -> None:
        """Tell it once, and remember nothing."""
        self.orders += [Order(tell, one.person, not_before, one.loud, one.why) for one in people]


def _entered(case: Case, one: Told) -> Case:
    others = [known for known in case.told if known.person != one.person]
    return case._replace(told=(*others, one))
