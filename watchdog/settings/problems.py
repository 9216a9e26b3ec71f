"""What is wrong with the settings, said so that a person can mend it: place, what was found, what would be right."""

import difflib
import re
from collections.abc import Iterable, Sequence
from typing import NamedTuple

_PLAIN = re.compile(r"[\w.~ -]{1,48}\Z")
_LONGEST = 48


class Problem(NamedTuple):
    """One mistake."""

    place: str
    """file and dotted path of the setting, or the environment variable"""
    fault: str
    """what is wrong and what would be right; one or two sentences. Never holds a value that may be a secret."""

    def __str__(self) -> str:
        return f"{self.place}: {self.fault}"


class BadSettings(Exception):
    """The settings cannot be used. Holds every problem found, not only the first."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        count = len(self.problems)
        ending = f"{count} problem{'s' if count != 1 else ''}; nothing was started."
        super().__init__("\n".join([*map(str, self.problems), ending]))


def nearest(name: str, valid: Iterable[str]) -> str:
    """A hint that names the nearest valid name, or all of them when none is near."""
    names = sorted(valid)
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.55)
    if near:
        return f"Did you mean {near[0]}?"
    return f"Valid here: {', '.join(names)}." if len(names) <= 24 else "See the commented example."


def shown(value: object, path: Sequence[str] = ()) -> str:
    """What was found at `path`, as far as it cannot be a secret: nothing of routes, calendars,
    heartbeat, network and mqtt, no address, nothing long."""
    secret = bool(path) and path[0] in ("routes", "calendars", "heartbeat", "network", "mqtt")
    match value:
        case dict():
            return "a table"
        case list() | tuple() | set() | frozenset():
            return "a list"
        case _ if secret:
            return "the value"
        case bool():
            return str(value).lower()
        case int() | float():
            text = repr(value)
            return text if len(text) <= _LONGEST else "this number"
        case str() if "://" in value or "@" in value:
            return "an address"
        case str() if len(value) > _LONGEST:
            return "this text"
        case str():
            return repr(value)
    return "the value"


def dotted(path: Sequence[str]) -> str:
    """`path` as the file would write it. A part that is no plain name is not repeated: it may be an address."""
    return ".".join(part if _PLAIN.match(part) else '"…"' for part in path)
