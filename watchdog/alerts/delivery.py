"""Takes what waits in the outbox to the people it is for, and does not let go of it before a route has taken it.

At least once: a parcel is marked only after a server took it, so a crash in between sends it again. What waits for one
person goes as one message, and apart from urgent ones messages keep a distance. A person's routes are tried in their order,
each in a process of its own, the next one as soon as one has failed; what is loud goes by all of them at once. When all
failed they are tried again after a growing pause, and after some minutes the watch itself counts as impaired, since somebody
would not be told.
"""

import asyncio
from collections.abc import Awaitable, Callable, Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import partial
from typing import Protocol
from zoneinfo import ZoneInfo

from watchdog.alerts.backoff import BackOff, rounds_so_far
from watchdog.alerts.complaints import Complaints
from watchdog.alerts.languages import language
from watchdog.alerts.ledger import UNAVAILABLE, Ledger, Outbox, due_from
from watchdog.alerts.matters import Matter
from watchdog.alerts.network import Network
from watchdog.alerts.routes import Person, Route
from watchdog.alerts.sender import LIMIT, Result
from watchdog.alerts.sender import send as _send
from watchdog.alerts.talking import Talking
from watchdog.alerts.wording import Minute, Wording, Words
from watchdog.alerts.words import message
from watchdog.clock import Clock
from watchdog.core.alarms.alarm import Alarm
from watchdog.core.alarms.table import TABLE
from watchdog.core.routing.pace import Pace
from watchdog.record.parcels import Attempt, Outcome, Parcel


@dataclass(frozen=True, slots=True)
class Options:
    """How messages are delivered."""

    zone: ZoneInfo
    """local time of the people who read"""
    limit: float = LIMIT
    """real s for one attempt on one route"""
    back_off: BackOff = field(default_factory=BackOff)
    late_after: float = 120.0
    """s after which a message says that it is late"""
    impaired_after: float = 300.0
    """s without any route before the watch counts as impaired; see `watch-impaired` in the alarm table"""
    look: float = 2.0
    """s between looks into the outbox when nobody nudges"""
    parallel: int = 4
    """people served at the same time; each takes a process of some 45 MB for that moment"""
    pace: Pace = field(default_factory=Pace)
    """the pauses between two messages to one person that are not urgent"""
    network: Network = field(default_factory=Network)
    """the way out"""


class Send(Protocol):
    """Sends one message along routes; `sender.send` is the real one."""

    def __call__(self, routes: Sequence[Route], words: Words, limit: float) -> Awaitable[tuple[Result, ...]]:
        """One result a route, in their order."""


async def no_minutes(machine: str) -> Sequence[Minute]:
    """The last minutes of a machine of which nothing is kept."""
    return ()


PersonalLinks = Callable[[str, Matter], str | None]
"""the link for one person and one matter; see `Wording`"""


def no_links(person: str, matter: Matter) -> str | None:
    """Where there is no page."""
    return None


def uncounted(outcome: Outcome, took: float | None) -> None:
    """Where nobody counts."""


class Delivery:
    """The loop from the outbox to the people. `report` gets all complaints whenever they change; empty when none stands.

    `count` gets the outcome of each attempt with each parcel, and once a parcel the s from when it was due to when a server
    took it.
    """

    def __init__(
        self,
        outbox: Outbox,
        people: Iterable[Person],
        clock: Clock,
        options: Options,
        report: Callable[[tuple[str, ...]], None],
        *,
        minutes: Callable[[str], Awaitable[Sequence[Minute]]] = no_minutes,
        links: PersonalLinks = no_links,
        outlast_links: PersonalLinks = no_links,
        marks: PersonalLinks = no_links,
        outlast_marks: PersonalLinks = no_links,
        table: Mapping[str, Alarm] = TABLE,
        send: Send | None = None,
        count: Callable[[Outcome, float | None], None] = uncounted,
    ) -> None:
        self._people = {person.name: person for person in people}
        self._clock = clock
        self._options = options
        self._minutes = minutes
        self._links = links
        self._outlast_links = outlast_links
        self._marks = marks
        self._outlast_marks = outlast_marks
        self._table = table
        self._send = send or partial(_send, network=options.network)
        self._count = count
        self._ledger = Ledger(outbox)
        self._talking = Talking(outbox, options.pace)
        self._complaints = Complaints(report, options.impaired_after, options.zone)
        self._busy: set[str] = set()
        self._news = asyncio.Event()

    def nudge(self) -> None:
        """New parcels have been committed: look now."""
        self._news.set()

    async def run(self) -> None:
        """Deliver until cancelled. A child that is sending is then ended; its parcels stay in the outbox."""
        async with asyncio.TaskGroup() as tasks:
            places = asyncio.Semaphore(self._options.parallel)
            while True:
                self._news.clear()
                now = self._clock.now().stamp
                for name, parcels in (await self._waiting(now)).items():
                    self._busy.add(name)
                    tasks.create_task(self._serve(name, parcels, places), name=f"deliver to {name}")
                self._complaints.look(now)
                await self._pause()

    async def _pause(self) -> None:
        """Until somebody nudges, or the next look is due on the told clock."""
        with suppress(TimeoutError):
            async with asyncio.timeout(self._options.look / self._clock.rate):
                await self._news.wait()

    async def _waiting(self, now: float) -> dict[str, list[Parcel]]:
        """What goes out now, by person. Whoever gets a message gets with it what else waits for its next try."""
        busy = set(self._busy)  # as it was before the look: what was read of a person just served is stale
        due: dict[str, list[Parcel]] = {}
        for parcel in await self._ledger.due(now):
            due.setdefault(parcel.person, []).append(parcel)
        may = {name for name, parcels in due.items() if await self._talking.may(name, parcels, now)}
        persons = may - busy - self._busy
        if not persons:
            return {}
        found: dict[str, list[Parcel]] = {}
        for parcel in await self._ledger.due(now, ahead=self._options.back_off.most):
            if parcel.person in persons:
                found.setdefault(parcel.person, []).append(parcel)
        return found

    async def _serve(self, name: str, parcels: Sequence[Parcel], places: asyncio.Semaphore) -> None:
        try:
            async with places:
                await self._deliver(name, parcels)
        finally:
            self._busy.discard(name)
            self._news.set()  # more may have come for this person meanwhile

    async def _deliver(self, name: str, parcels: Sequence[Parcel]) -> None:
        """One message to one person: along the routes in order until one takes it, or by all at once where it is loud."""
        person = self._people.get(name)
        attempts: list[Attempt] = []
        if person is not None and (routes := _open_routes(person, parcels)):
            words = await self._words(person, parcels)
            loud = any(parcel.loud for parcel in parcels)
            for together in [routes] if loud else [(route,) for route in routes]:
                results = await self._send(together, words, self._options.limit)
                at = self._clock.now().stamp
                attempts += [
                    Attempt(parcel.id, result.route, at, result.outcome, result.detail)
                    for result in results
                    for parcel in parcels
                ]
                taken = any(result.outcome is Outcome.DELIVERED for result in results)
                self._count_all(results, parcels, at)
                if taken:
                    self._talking.told(name, parcels, at)
                    await self._ledger.settle(attempts, {}, {parcel.id for parcel in parcels})
                    self._complaints.delivered(name, at)
                    return
        now = self._clock.now().stamp
        await self._ledger.settle(attempts, self._next_tries(person, parcels, bool(attempts), now), ())
        self._complaints.failed(name, person, parcels, attempts, now)

    def _count_all(self, results: Iterable[Result], parcels: Collection[Parcel], at: float) -> None:
        first = True
        for result in results:
            taken = result.outcome is Outcome.DELIVERED
            for parcel in parcels:
                self._count(result.outcome, max(0.0, at - due_from(parcel)) if taken and first else None)
            first = first and not taken

    async def _words(self, person: Person, parcels: Collection[Parcel]) -> Words:
        wording = Wording(
            self._options.zone,
            self._clock.now().stamp,
            self._options.late_after,
            person.show_files,
            frozenset(self._people),
            language(person.language),
            partial(self._links, person.name),
            partial(self._outlast_links, person.name),
            partial(self._marks, person.name),
            partial(self._outlast_marks, person.name),
        )
        minutes: dict[str, Sequence[Minute]] = {}
        with suppress(*UNAVAILABLE):  # a message without its table is still a message
            for machine in {parcel.machine for parcel in parcels}:
                minutes[machine] = await self._minutes(machine)
        return message(parcels, self._table, wording, minutes)

    def _next_tries(
        self, person: Person | None, parcels: Sequence[Parcel], tried: bool, now: float
    ) -> dict[int, float]:
        """Stamps. Where nothing could be tried the longest pause is kept: only new settings can mend that."""
        back_off = self._options.back_off
        if person is None or not tried:
            return {parcel.id: now + back_off.most for parcel in parcels}
        rounds = {parcel.id: 1 + rounds_so_far(parcel.attempts, len(person.routes)) for parcel in parcels}
        return {parcel: now + back_off.after(done) for parcel, done in rounds.items()}


def _open_routes(person: Person, parcels: Collection[Parcel]) -> tuple[Route, ...]:
    """The routes that have not refused this message for good. A message that holds anything new is a new message."""
    refused = frozenset.intersection(*(parcel.refused for parcel in parcels))
    return tuple(route for route in person.routes if route.name not in refused)
