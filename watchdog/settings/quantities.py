"""Quantities and names as people write them, read into ours. Each refusal is a sentence that goes on after what was found."""

import re
from pathlib import Path
from typing import Annotated, Any, NamedTuple, get_args

from pydantic import AfterValidator, BeforeValidator

_UNITS = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
_PART = re.compile(r"\s*(\d{1,9}(?:\.\d{1,9})?)\s*(s|min|h|d)(?![a-z])\.?\s*", re.IGNORECASE)
_PLAIN = re.compile(r"\d{1,12}(?:\.\d{1,9})?\Z")
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}\Z")
_AS = 'Write it as "90 s", "5 min" or "1 h 30 min"'


class Unit(NamedTuple):
    """In what a setting is measured, for the words of a complaint."""

    name: str


def unit_of(annotation: Any) -> str:
    """The unit in `annotation`, ready to stand behind a number; empty where there is none."""
    for part in get_args(annotation):
        if isinstance(part, Unit):
            return "" if part.name == "1" else f" {part.name}"
        if found := unit_of(part):
            return found
    return ""


def seconds(written: object) -> object:
    """s from ``"1 h 30 min"``, ``"90 s"``, ``"5 min"`` or a plain number of seconds, also as text.

    What is neither text nor truth is handed on unchanged: the model judges it. Raises ValueError for the rest.
    """
    if isinstance(written, bool):
        raise ValueError(f"is no duration. {_AS}")
    if not isinstance(written, str):
        return written
    text = written.strip()
    if _PLAIN.match(text):
        return float(text)
    total, at = 0.0, 0
    while at < len(text):
        part = _PART.match(text, at)
        if part is None:
            raise ValueError(f"is no duration. {_AS}")
        total += float(part[1]) * _UNITS[part[2].lower()]
        at = part.end()
    if not text:
        raise ValueError(f"is an empty duration. {_AS}")
    return total


def no_truth(written: object) -> object:
    """Everything but true and false, which would count as 1 and 0. Raises ValueError."""
    if isinstance(written, bool):
        raise ValueError("is no number. Write one, without quotes")
    return written


def plain_name(written: str) -> str:
    """A name that fits into a topic, a file name and a command line. Raises ValueError with the rule."""
    if not _NAME.match(written):
        raise ValueError(
            "is no name here: a name has 1 to 40 letters without accents, digits, '-' or '_', "
            "and begins with a letter or a digit"
        )
    return written


def whole_path(written: Path) -> Path:
    """A path that means the same wherever the service is started from. Raises ValueError otherwise."""
    if str(written).startswith("~"):
        try:
            written = written.expanduser()
        except RuntimeError:
            raise ValueError("begins with a home folder that is not known here. Write the whole path, from /") from None
    if not written.is_absolute():
        raise ValueError("is not the whole path. Write it from /, so that it means the same wherever the watch starts")
    return written


Seconds = Annotated[float, BeforeValidator(seconds), Unit("s")]
"""s; written as a number of seconds or with units"""
Number = Annotated[float, BeforeValidator(no_truth)]
"""a plain number"""
Count = Annotated[int, BeforeValidator(no_truth)]
"""a whole number"""
Name = Annotated[str, AfterValidator(plain_name)]
"""what a machine, a person or a route is called"""
Place = Annotated[Path, AfterValidator(whole_path)]
"""a file or a folder, from /"""
