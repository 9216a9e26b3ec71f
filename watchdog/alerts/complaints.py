"""Who cannot be reached, and when that has lasted long enough to impair the watch."""

import shlex
from collections.abc import Callable, Sequence
from typing import NamedTuple
from zoneinfo import ZoneInfo

from watchdog.alerts.ledger import due_from
from watchdog.alerts.plain import clock_time
from watchdog.alerts.routes import Person
from watchdog.record.parcels import Attempt, Outcome, Parcel


class _Unreached(NamedTuple):
    since: float
    """stamp since which the oldest waiting message could not be delivered"""
    final: bool
    """no route is left to try: waiting longer mends nothing"""
    why: str
    what_to_do: str


class Complaints:
    """Tells `report` all standing complaints whenever they change, in the order of the people's names."""

    def __init__(self, report: Callable[[tuple[str, ...]], None], patience: float, zone: ZoneInfo) -> None:
        self._report = report
        self._patience = patience
        self._zone = zone
        self._unreached: dict[str, _Unreached] = {}
        self._told: tuple[str, ...] = ()

    def failed(
        self, name: str, person: Person | None, parcels: Sequence[Parcel], attempts: Sequence[Attempt], now: float
    ) -> None:
        """A round on `name`'s routes brought nothing."""
        since = min(_kept_from(parcel, now) for parcel in parcels)
        before = self._unreached.get(name)
        if before is not None:
            since = min(since, before.since)
        if person is None or not person.routes:
            lack = "who is not in the settings" if person is None else "who has no route"
            found = _Unreached(since, True, f"a message waits for '{name}', {lack}", "Amend the settings.")
        else:
            found = _judged(name, person, parcels, attempts, since)
            if before is not None and not attempts:  # nothing was left to try: what was said before still tells why
                found = found._replace(why=before.why)
        self._unreached[name] = found
        self.look(now)

    def delivered(self, name: str, now: float) -> None:
        """A message reached `name`'s server: what stood against this person is over."""
        self._unreached.pop(name, None)
        self.look(now)

    def look(self, now: float) -> None:
        """Time has passed: complaints may have become ripe."""
        ripe = [it for _, it in sorted(self._unreached.items()) if it.final or now - it.since >= self._patience]
        told = tuple(f"{it.why}, since {clock_time(it.since, self._zone, now)}. {it.what_to_do}" for it in ripe)
        if told != self._told:
            self._told = told
            self._report(told)


def _kept_from(parcel: Parcel, now: float) -> float:
    """Stamp. What was not tried before has waited for its time or for its turn until now."""
    return min(now, due_from(parcel)) if parcel.attempts else now


def _judged(
    name: str, person: Person, parcels: Sequence[Parcel], attempts: Sequence[Attempt], since: float
) -> _Unreached:
    said = {attempt.route: attempt for attempt in attempts}
    refused = frozenset.intersection(*(parcel.refused for parcel in parcels))
    refused |= {route for route, attempt in said.items() if attempt.outcome is Outcome.REFUSED}
    final = all(route.name in refused for route in person.routes)
    fault = "every route refuses" if final else "no route takes"
    details = "; ".join(f"{route}: {attempt.detail}" for route, attempt in said.items())
    why = f"{fault} messages to '{name}'" + (f" ({details})" if details else "")
    return _Unreached(since, final, why, f"Check network and settings, then: emberward test-alert {shlex.quote(name)}")
