"""A marked test message along every route, so that a person can see before the term which of them work."""

import asyncio
from collections.abc import Iterable
from typing import NamedTuple
from zoneinfo import ZoneInfo

from watchdog.alerts.causes import REMEDIES
from watchdog.alerts.mail import page
from watchdog.alerts.network import Network
from watchdog.alerts.plain import clock_time, zone_name
from watchdog.alerts.routes import Person, Route
from watchdog.alerts.sender import DIRECT, LIMIT, Result, send
from watchdog.alerts.wording import Words
from watchdog.record.parcels import Outcome

MARK = "◇ TEST"
PATIENCE = 29.0
"""s for one attempt while somebody waits for the answer"""


class Trial(NamedTuple):
    """What became of the test message on one route of one person."""

    person: str
    route: str
    outcome: Outcome
    words: str
    """one sentence for the one who asked, without secrets"""
    remedy: str = ""
    """what to do, in words that can be handed to the network's administrator as they are; empty where nothing is known"""


async def try_routes(
    people: Iterable[Person],
    zone: ZoneInfo,
    now: float,
    *,
    limit: float = LIMIT,
    network: Network = DIRECT,
    parallel: int = 4,
) -> tuple[Trial, ...]:
    """Try every route of `people`, also those behind one that works; `now` is the stamp that the message tells.

    One entry a route, in the order of the settings; a person without a route has none. With up to eight routes each has
    answered, or is given up, within a minute: no attempt takes longer than 29 s here.
    """
    limit = min(limit, PATIENCE)
    words = test_words(zone, now)
    places = asyncio.Semaphore(parallel)

    async def attempt(person: Person, route: Route) -> Trial:
        async with places:
            (result,) = await send((route,), words, limit, network)
        remedy = "" if result.cause is None else REMEDIES[result.cause]
        return Trial(person.name, route.name, result.outcome, _sentence(result), remedy)

    async with asyncio.TaskGroup() as tasks:
        tries = [
            tasks.create_task(attempt(person, route), name=f"test {route.name}")
            for person in people
            for route in person.routes
        ]
    return tuple(one.result() for one in tries)


def test_words(zone: ZoneInfo, now: float) -> Words:
    """The test message: it says that it is one, in the title and in the first line."""
    time = f"{clock_time(now, zone, now)} {zone_name(now, zone)}".strip()
    first = f"Do nothing: this is a test of the machine watch, sent {time}."
    facts = "A real message starts with what to do, then names the machine, what is wrong and since when."
    return Words(
        f"{MARK} machine watch", f"{MARK} {first}", first, f"{first}\n\n{facts}", page((first, facts), (), None)
    )


def _sentence(result: Result) -> str:
    if result.outcome is Outcome.DELIVERED:
        return "taken by the server; whether a person saw it cannot be known"
    if result.outcome is Outcome.REFUSED:
        return f"refused for good: {result.detail}"
    return f"failed, may work later: {result.detail}"
