"""Runs the child process that sends, and reads what it says. The delivery library itself is never loaded here."""

import asyncio
import json
import os
import signal
import sys
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

from watchdog.alerts.causes import Cause
from watchdog.alerts.network import Network
from watchdog.alerts.routes import Route
from watchdog.alerts.verdict import Verdict
from watchdog.alerts.wording import Words
from watchdog.record.parcels import Outcome

LIMIT = 30.0
"""s that one child may take. A mail server that answers at all does so within seconds; common practice, no source"""

_START = 5.0  # s of the limit that the child keeps for its own start, so that it can still say that a route was silent
_LONGEST = 65536  # bytes of one line of the child's answer


DIRECT = Network()
"""as the environment says, with what the system trusts"""


class Result(NamedTuple):
    """What became of one message on one route."""

    route: str
    outcome: Outcome
    detail: str
    cause: Cause | None = None
    """what stood in the way; None: nothing, or it cannot be told"""


async def send(
    routes: Sequence[Route], words: Words, limit: float = LIMIT, network: Network = DIRECT
) -> tuple[Result, ...]:
    """Send `words` along every one of `routes` at the same time; one result a route, in their order. Never raises OSError.

    `limit` is in real seconds, also where the clock runs faster: the network does not.
    """
    answers: dict[str, Verdict] = {}
    try:
        child = await asyncio.create_subprocess_exec(
            sys.executable,
            "-P",  # nothing is loaded from the folder in which the watch happens to run
            "-m",
            "watchdog.alerts.child",
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.DEVNULL,  # a traceback can hold an address
            env=_surroundings(),
            start_new_session=True,  # so that whatever it started can be ended with it
            limit=_LONGEST,
        )
    except OSError as fault:
        return _results(routes, answers, f"the sending process did not start: {fault.strerror}")
    missing = ""
    try:
        async with asyncio.timeout(limit):
            await _talk(child, _request(routes, words, max(limit - _START, limit / 2), network), answers)
            status = await child.wait()
            missing = f"the sending process ended early (status {status})"
    except TimeoutError:
        missing = f"no answer in {limit:g} s, given up"
    finally:
        if child.returncode is None:
            with suppress(ProcessLookupError):
                os.killpg(child.pid, signal.SIGKILL)
            await child.wait()
    return _results(routes, answers, missing)


def _surroundings() -> dict[str, str]:
    """The child finds the very package that runs here, installed or not."""
    home = str(Path(__file__).parents[2])
    return os.environ | {"PYTHONPATH": os.pathsep.join(filter(None, (home, os.environ.get("PYTHONPATH"))))}


async def _talk(child: asyncio.subprocess.Process, request: bytes, answers: dict[str, Verdict]) -> None:
    assert child.stdin is not None
    assert child.stdout is not None
    with suppress(OSError):  # it ended before it read everything: its status tells
        child.stdin.write(request)
        await child.stdin.drain()
        child.stdin.close()
    with suppress(ValueError, KeyError, TypeError):  # a line that is too long or no such JSON: not one of ours
        async for line in child.stdout:
            answer = json.loads(line)
            cause = answer["cause"] and Cause(answer["cause"])
            answers[answer["route"]] = Verdict(Outcome(answer["outcome"]), answer["detail"], cause)


def _request(routes: Sequence[Route], words: Words, limit: float, network: Network) -> bytes:
    ways = [
        {"name": route.name, "url": route.url, "brief": route.brief, "two_parts": route.two_parts} for route in routes
    ]
    return json.dumps({"routes": ways, "limit": limit, "network": network.plain(), **words._asdict()}).encode()


def _results(routes: Sequence[Route], answers: dict[str, Verdict], missing: str) -> tuple[Result, ...]:
    unheard = Verdict(Outcome.FAILED, missing)
    return tuple(Result(route.name, *answers.get(route.name, unheard)) for route in routes)
