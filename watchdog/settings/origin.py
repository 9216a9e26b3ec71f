"""Where each setting comes from: the file, and the environment over it."""

import os
import re
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from pydantic_settings import EnvSettingsSource, SettingsError

from watchdog.settings.model import Settings
from watchdog.settings.problems import BadSettings, Problem, dotted, nearest

PREFIX = "EMBERWARD_"


class Written(NamedTuple):
    """What is written in file and environment, not judged yet."""

    file: Path | None
    merged: Mapping[str, Any]
    from_environment: Mapping[str, Any]
    problems: tuple[Problem, ...]
    """mistakes in the names and the form of environment variables"""

    def place(self, path: Sequence[str]) -> str:
        """The place to name for the setting at `path`."""
        here: Any = self.from_environment
        for depth, part in enumerate(path):
            if not isinstance(here, Mapping) or part not in here:
                break
            if depth == len(path) - 1 or not isinstance(here[part], Mapping):
                return f"environment: {variable(path[: depth + 1])}"
            here = here[part]
        where = str(self.file) if self.file is not None else "environment"
        return f"{where}: {dotted(path)}" if path else where


def variable(path: Sequence[str]) -> str:
    """The environment variable that sets what is at `path`: its own, or one that holds a table around it as JSON."""
    held = {name.upper() for name in os.environ}
    names = [PREFIX + "__".join(path[:depth]).upper() for depth in range(len(path), 0, -1)]
    return next((dotted([name]) for name in names if name in held), dotted(names[:1]))


def read(file: Path | None) -> Written:
    """Everything that is written. Raises BadSettings when the file cannot be read at all."""
    told, problems = _environment()
    return Written(file, over(_toml(file) if file is not None else {}, told), told, tuple(problems))


def _toml(file: Path) -> dict[str, Any]:
    try:
        with file.open("rb") as opened:
            return tomllib.load(opened)
    except OSError as error:
        raise BadSettings([Problem(str(file), f"cannot be read: {error.strerror or error}.")]) from None
    except UnicodeDecodeError:
        raise BadSettings([Problem(str(file), "is no text in UTF-8. Save it as UTF-8.")]) from None
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise BadSettings([Problem(str(file), f"is no valid TOML: {error}.")]) from None


def _environment() -> tuple[dict[str, Any], list[Problem]]:
    problems = []
    valid = {PREFIX + name.upper() for name in Settings.model_fields}
    for name in sorted(os.environ):
        if name.upper().startswith(PREFIX) and name.upper().split("__")[0] not in valid:
            fault = f"no such setting. {nearest(name.upper().split('__')[0], valid)}"
            problems.append(Problem(f"environment: {dotted([name])}", fault))
    try:
        told: dict[str, Any] = EnvSettingsSource(Settings)()
    except SettingsError as error:
        found = re.search(r'field "(\w+)"', str(error))
        name = PREFIX + found[1].upper() if found else "a variable"
        return {}, [*problems, Problem(f"environment: {name}", "is no valid JSON. A whole table is written as JSON.")]
    return told, problems


def over(below: Mapping[str, Any], above: Mapping[str, Any]) -> dict[str, Any]:
    """`above` laid over `below`, table by table."""
    laid = dict(below)
    for name, value in above.items():
        under = laid.get(name)
        laid[name] = over(under, value) if isinstance(under, Mapping) and isinstance(value, Mapping) else value
    return laid
