"""Read the settings: one file, the environment, the credentials. Every mistake is told, not one at a time."""

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Literal

from pydantic import ValidationError

from watchdog.settings import addresses as keeping
from watchdog.settings import calendar_sources, heartbeat, mail_options, mqtt_options, network, origin, relations
from watchdog.settings.findings import from_validation, path_of
from watchdog.settings.model import Settings
from watchdog.settings.origin import Written
from watchdog.settings.problems import BadSettings, Problem, dotted, nearest

SYSTEM = Path("/etc/emberward/emberward.toml")

Addresses = Literal["needed", "as far as handed over", "not needed"]


def default_file(environment: Mapping[str, str] = os.environ, system: Path = SYSTEM) -> Path | None:
    """The file that is read when none is named: the system's, else the user's, else none.

    A system's file that this account cannot see into counts as there: to pass it over would be to watch half configured.
    """
    user = Path(environment.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "emberward" / "emberward.toml"
    for place in (system, user):
        try:
            if place.is_file():
                return place
        except PermissionError:
            return place
    return None


def load(file: Path | None, *, addresses: Addresses = "needed") -> Settings:
    """The settings in `file` (None: defaults and environment alone). Raises BadSettings with everything that is wrong.

    `addresses` says whether those of the routes must be there: to send they must, to replay a recording they need not.
    """
    written = origin.read(file)
    settings, problems = _judged(written)
    problems += relations.of_written(written)
    problems += relations.of_values(written, settings)
    problems += calendar_sources.of_written(written)
    problems += [Problem(written.place(path), fault) for path, fault in heartbeat.of_written(written.merged)]
    problems += [Problem(written.place(path), fault) for path, fault in mail_options.of_written(written.merged)]
    problems += [Problem(written.place(path), fault) for path, fault in mqtt_options.of_written(written.merged)]
    if addresses != "not needed":
        problems += keeping.problems(written, settings, handed=addresses == "needed")
        problems += calendar_sources.problems(written, settings, handed=addresses == "needed")
        found = [*network.mistakes(settings.network)]
        found += heartbeat.mistakes(settings.heartbeat, handed=addresses == "needed")
        found += mail_options.mistakes(settings.mail_answers, handed=addresses == "needed")
        found += mqtt_options.mistakes(settings.mqtt, handed=addresses == "needed")
        problems += [Problem(written.place(path), fault) for path, fault in found]
    if problems:
        raise BadSettings(dict.fromkeys(problems))
    return settings


def load_surroundings(file: Path | None) -> Settings:
    """Zone and places alone: for commands that talk to a running service.

    A mistake that was written beside them since the service started must not keep anybody from acknowledging an alarm.
    Raises BadSettings for a mistake in these.
    """
    written = origin.read(file)
    kept = {name: value for name, value in written.merged.items() if name in ("zone", "places")}
    settings, problems = _judged(written._replace(merged=kept, problems=()))
    if problems:
        raise BadSettings(problems)
    return settings


def load_log_part(file: Path | None) -> Settings:
    """What the commands of the incident log need: zone and places, [review] and [upkeep], and the machines as far as they are
    right. Raises BadSettings for a mistake in all but the machines: entering what was seen must not wait for these."""
    written = origin.read(file)
    ours = ("zone", "places", "review", "upkeep")
    kept = {name: value for name, value in written.merged.items() if name in ours}
    _, problems = _judged(written._replace(merged=kept, problems=()))
    problems += relations.of_upkeep(written)
    if problems:
        raise BadSettings(problems)
    if isinstance(written.merged.get("machines"), Mapping):
        kept["machines"] = written.merged["machines"]
    return _judged(written._replace(merged=kept, problems=()))[0]


def _judged(written: Written) -> tuple[Settings, list[Problem]]:
    """The settings without those that are wrong by themselves, and what is wrong with these."""
    problems = list(written.problems)
    known = {}
    for name, value in written.merged.items():
        if name in Settings.model_fields:
            known[name] = value
        else:
            fault = f"no such setting. {nearest(dotted([name]), Settings.model_fields)}"
            problems.append(Problem(written.place([name]), fault))
    while True:
        try:
            return Settings(**known), problems
        except ValidationError as error:
            found = [problem for problem in from_validation(written.place, Settings, error) if problem not in problems]
            problems += found
            for finding in error.errors(include_url=False):
                known = _without(known, _whole_mistake(path_of(finding)))


def _whole_mistake(path: Sequence[str]) -> Sequence[str]:
    """How much is left out for a mistake at `path`, so that what is left stands by itself."""
    if path[0] == "machines":
        return path[: 4 if path[2:3] == ["limits"] else 3]
    return path[:2] if path[0] in ("people", "routes", "calendars", "alarms", "limits", "upkeep") else path[:1]


def _without(table: Mapping[str, Any], path: Sequence[str]) -> dict[str, Any]:
    if len(path) == 1 or not isinstance(table.get(path[0]), Mapping):
        return {name: value for name, value in table.items() if name != path[0]}
    return {**table, path[0]: _without(table[path[0]], path[1:])} if path[0] in table else dict(table)
