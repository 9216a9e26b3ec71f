"""The value in a sensor's message. Anybody on the network may write there, so it is total: a number or None, never an error.

21.5            a plain number, an exponent allowed
ON              a yes or no: on true yes open = 1, off false no closed = 0, or the sensor's own words
{"air": {"t": 21.5}}    JSON with a pointer to the value (RFC 6901), /air/t
"""

import json
import re
from math import isfinite

from watchdog.core.sensors import SensorSpec

LONGEST = 16 * 1024
"""bytes of a message that are read at all; a sensor sends some hundred. Project's choice"""
DEEPEST = 32
"""brackets within brackets; a sensor sends three or four. Project's choice"""
_LARGEST = 1e12
_NUMBER = re.compile(r"[+-]?\d{1,15}(?:\.\d{0,15})?(?:[eE][+-]?\d{1,2})?\Z", re.ASCII)
_INDEX = re.compile(r"(?:0|[1-9]\d{0,5})\Z", re.ASCII)
_POINTER = re.compile(r"(?:/(?:[^~/]|~[01])*)*\Z")
_YES = frozenset({"on", "true", "yes", "open"})
_NO = frozenset({"off", "false", "no", "closed"})


def read_payload(spec: SensorSpec, payload: bytes) -> float | None:
    """The value in the unit of the sensor's kind; None where the message holds none. Yes and no are not scaled."""
    if len(payload) > LONGEST:
        return None
    try:
        text = payload.decode("utf-8")
    except UnicodeDecodeError:
        return None
    if not spec.pointer:
        text = text.strip()
        return _value(spec, text[1:-1] if len(text) >= 2 and text[0] == text[-1] == '"' else text)
    if _deep(text):
        return None
    try:
        found = _at(json.loads(text, parse_constant=_no_number), spec.pointer)
    except (ValueError, RecursionError, OverflowError):
        return None
    if isinstance(found, bool):
        return _value(spec, "true" if found else "false")
    if isinstance(found, str):
        return _value(spec, found.strip())
    return _value(spec, repr(found)) if isinstance(found, int | float) else None


def is_pointer(written: str) -> bool:
    """`written` is a JSON pointer, the empty one included."""
    return _POINTER.match(written) is not None


def _value(spec: SensorSpec, text: str) -> float | None:
    word = text.casefold()
    for own, meaning in ((spec.yes, 1.0), (spec.no, 0.0)):
        if own is not None and word == own.casefold():
            return meaning
    if word in _YES:
        return 1.0
    if word in _NO:
        return 0.0
    if _NUMBER.match(text) is None:
        return None
    number = float(text) * spec.scale
    return number if isfinite(number) and abs(number) <= _LARGEST else None


def _deep(text: str) -> bool:
    """More brackets stand open at once than a sensor has reason for; brackets in its words count too."""
    depth = 0
    for letter in text:
        if letter in "{[":
            depth += 1
            if depth > DEEPEST:
                return True
        elif letter in "}]":
            depth -= 1
    return False


def _at(document: object, pointer: str) -> object:
    """What the pointer leads to; None where it leads nowhere."""
    for token in pointer.split("/")[1:]:
        name = token.replace("~1", "/").replace("~0", "~")
        if isinstance(document, dict):
            document = document.get(name)
        elif isinstance(document, list) and _INDEX.match(name) and int(name) < len(document):
            document = document[int(name)]
        else:
            return None
    return document


def _no_number(word: str) -> float:
    raise ValueError(f"{word} is no JSON")
