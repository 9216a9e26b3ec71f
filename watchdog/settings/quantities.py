"""Quantities as people write them: durations with their units, names of alarms and machines."""

import re
from typing import Annotated

from pydantic import BeforeValidator

_UNITS = {"s": 1.0, "sec": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
_PART = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(s|sec|min|h|d)\b\.?\s*", re.IGNORECASE)
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9_-]{0,39}\Z")


def seconds(written: object) -> object:
    """s from ``"1 h 30 min"``, ``"90 s"``, ``"5 min"`` or a plain number of seconds.

    Anything else is handed on unchanged, so that the model reports it at its place. Raises ValueError with the remedy for a
    text that looks like a duration and is none.
    """
    if not isinstance(written, str):
        return written
    at = total = 0.0
    text = written.strip()
    while at < len(text):
        part = _PART.match(text, int(at))
        if part is None:
            raise ValueError('no duration. Write it as "90 s", "5 min" or "1 h 30 min"')
        total += float(part[1]) * _UNITS[part[2].lower()]
        at = part.end()
    if not text:
        raise ValueError('an empty duration. Write it as "90 s", "5 min" or "1 h 30 min"')
    return total


def plain_name(written: str) -> str:
    """A name that fits into a topic, a file name and a command line. Raises ValueError with the rule."""
    if not _NAME.match(written):
        raise ValueError("a name has 1 to 40 letters, digits, '-' or '_' and begins with a letter or a digit")
    return written


Seconds = Annotated[float, BeforeValidator(seconds)]
"""s; written as a number of seconds or with units"""
