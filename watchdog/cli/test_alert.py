"""`test-alert`: a marked message along every route, and what became of it."""

import argparse
import asyncio
import json
from textwrap import fill

from watchdog.alerts.trial import Trial, try_routes
from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, Stop, complain, paint, say, settings_of
from watchdog.clock import Clock
from watchdog.record.parcels import Outcome
from watchdog.settings.fill import delivery_of, people_of, zone_of

SIGNS = {
    Outcome.DELIVERED: ("taken  ", "bold"),
    Outcome.FAILED: ("FAILED ", "red"),
    Outcome.REFUSED: ("REFUSED", "red"),
}

WIDTH, INDENT = 100, " " * 9  # characters; remedies stand below the route that they are for


def run(asked: argparse.Namespace) -> int:
    """Try the routes; exit status 1 when one of them did not work."""
    try:
        settings = settings_of(asked)
        people = people_of(settings)
        if asked.person is not None:
            known = [person.name for person in people]
            people = tuple(person for person in people if person.name == asked.person)
            if not people:
                raise Stop(USAGE, f"{asked.person}: no such person. Named: {', '.join(known) or 'nobody'}.")
        if not people:
            raise Stop(USAGE, "nobody is named in the settings, so there is nobody to tell. See config/emberward.toml.")
    except Stop as stop:
        complain(str(stop))
        return stop.status
    if not asked.json:
        say("Sending a marked test message along each route; this takes up to a minute.")
    options = delivery_of(settings)
    trials = asyncio.run(
        try_routes(people, zone_of(settings), Clock().now().stamp, limit=options.limit, network=options.network)
    )
    for trial in trials:
        say(json.dumps(_plain(trial), ensure_ascii=False) if asked.json else _line(trial))
    if not asked.json:
        say(
            "'taken' means that a server took it. Ask each person whether it arrived, on the telephone that they carry."
        )
    return DONE if all(trial.outcome is Outcome.DELIVERED for trial in trials) else FOUND_WRONG


def _line(trial: Trial) -> str:
    sign, style = SIGNS[trial.outcome]
    line = f"{paint(sign, style)}  {trial.person} by {trial.route}: {trial.words}"
    return (
        line
        if not trial.remedy
        else f"{line}\n{fill(trial.remedy, WIDTH, initial_indent=INDENT, subsequent_indent=INDENT)}"
    )


def _plain(trial: Trial) -> dict[str, str]:
    return {
        "person": trial.person,
        "route": trial.route,
        "outcome": trial.outcome.value,
        "words": trial.words,
        "remedy": trial.remedy,
    }
