"""Read the settings: one file, the environment, the credentials. Every mistake is reported, none at a time."""

import os
import stat
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from watchdog.settings.model import Route, Settings
from watchdog.settings.problems import BadSettings, Problem, from_validation, nearest


def default_file(environment: Mapping[str, str] = os.environ) -> Path | None:
    """The file that is read when none is named: the system's, else the user's, else none."""
    user = Path(environment.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "emberward" / "emberward.toml"
    for place in (Path("/etc/emberward/emberward.toml"), user):
        if place.is_file():
            return place
    return None


def load(file: Path | None) -> Settings:
    """The settings in `file` (None: defaults and environment alone). Raises BadSettings with everything that is wrong."""
    where = str(file) if file is not None else "environment"
    written = _toml(file) if file is not None else {}
    try:
        settings = Settings(**written)
    except ValidationError as error:
        raise BadSettings(from_validation(where, Settings, error)) from None
    problems = [*_references(where, settings), *_secrets(where, settings)]
    if problems:
        raise BadSettings(problems)
    return settings


def _toml(file: Path) -> dict[str, Any]:
    try:
        with file.open("rb") as opened:
            return tomllib.load(opened)
    except OSError as error:
        raise BadSettings([Problem(str(file), f"cannot be read: {error.strerror or error}.")]) from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise BadSettings([Problem(str(file), f"is no valid TOML: {error}.")]) from None


def _references(where: str, settings: Settings) -> list[Problem]:
    """Names that point nowhere."""
    problems = []
    for name, person in settings.people.items():
        for route in person.routes:
            if route not in settings.routes:
                hint = nearest(route, settings.routes) if settings.routes else f"Add [routes.{route}] with its url."
                problems.append(Problem(f"{where}: people.{name}.routes", f"there is no route {route!r}. {hint}"))
    devices: dict[str, str] = {}
    for name, machine in settings.machines.items():
        place = machine.port if machine.source == "serial" else str(machine.log)
        if place is None:
            if len(settings.machines) > 1:
                fault = "with several machines each must name its port, or two would take the same port."
                problems.append(Problem(f"{where}: machines.{name}.port", fault))
        elif place in devices:
            fault = f"machine {devices[place]!r} already uses it. One machine, one port."
            problems.append(Problem(f"{where}: machines.{name}", fault))
        else:
            devices[place] = name
    return problems


def _secrets(where: str, settings: Settings) -> list[Problem]:
    """Addresses that are missing, or that others on this computer can read."""
    problems = []
    for name, route in settings.routes.items():
        try:
            if not address(route):
                problems.append(Problem(f"{where}: routes.{name}", "its address is empty."))
        except OSError as error:
            fault = f"its address cannot be read: {error.strerror or error}."
            problems.append(Problem(f"{where}: routes.{name}", fault))
        if route.url_file is not None and _open_to_others(route.url_file):
            fault = f"others on this computer can read {route.url_file}. Do: chmod 600 {route.url_file}"
            problems.append(Problem(f"{where}: routes.{name}.url_file", fault))
    return problems


def _open_to_others(file: Path) -> bool:
    return file.exists() and bool(stat.S_IMODE(file.stat().st_mode) & 0o077)


def address(route: Route, environment: Mapping[str, str] = os.environ) -> str:
    """The route's address, read from where it is kept. Raises OSError when it is not there."""
    if route.url is not None:
        return route.url.get_secret_value().strip()
    if route.url_file is not None:
        return route.url_file.read_text(encoding="utf-8").strip()
    folder = environment.get("CREDENTIALS_DIRECTORY")
    if folder is None:
        raise FileNotFoundError(2, "no credentials were handed over (CREDENTIALS_DIRECTORY is not set)")
    return (Path(folder) / str(route.credential)).read_text(encoding="utf-8").strip()
