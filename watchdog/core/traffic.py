"""The traffic recording: one line of traffic a line of text.

    2026-03-02T09:14:07.412Z < ok T:24.1 /0.0 B:23.0 /0.0 @:0 B@:0
    2026-03-02T09:14:09.412Z > M105
    2026-03-02T09:14:09.500Z ! link closed

UTC time with milliseconds (RFC 3339), a direction, the line without its ending; undecodable bytes as ``\\xNN``.
"""

import re
from datetime import UTC, datetime
from enum import StrEnum
from typing import NamedTuple


class Direction(StrEnum):
    """Who spoke."""

    RECEIVED = "<"
    SENT = ">"
    REMARK = "!"


class TrafficLine(NamedTuple):
    """One line of traffic with the time at which its first byte was seen."""

    stamp: float
    """s since 1970-01-01T00:00Z"""
    direction: Direction
    text: str


_DIRECTIONS = {direction.value: direction for direction in Direction}
_LINE = re.compile(r"(\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3})Z ([<>!])(?: (.*))?\Z", re.DOTALL)


def decode(raw: bytes) -> str:
    """The text of `raw`; bytes that are no UTF-8 come as ``\\xNN``. Never raises."""
    return raw.decode("utf-8", "backslashreplace")


def stamp_text(stamp: float) -> str:
    """`stamp` as RFC 3339 UTC with milliseconds: ``2026-03-02T09:14:07.412Z``.

    Rounded to whole milliseconds first, so that reading it back and writing it again changes nothing.
    """
    whole, thousandths = divmod(round(stamp * 1000), 1000)
    return f"{datetime.fromtimestamp(whole, UTC):%Y-%m-%dT%H:%M:%S}.{thousandths:03d}Z"


def read_stamp(text: str) -> float | None:
    """s since 1970 of an RFC 3339 time with an offset or ``Z``; None when it is none."""
    try:
        read = datetime.fromisoformat(text)
    except ValueError:
        return None
    return None if read.tzinfo is None else read.timestamp()


def write_line(line: TrafficLine) -> str:
    """`line` in the recording's format, without a line ending. Line breaks inside the text are escaped."""
    text = line.text.replace("\r", "\\x0d").replace("\n", "\\x0a")
    return f"{stamp_text(line.stamp)} {line.direction.value} {text}"


def read_line(text: str) -> TrafficLine | None:
    """The line of traffic that `text` (without its ending) records; None when it does not parse. Never raises."""
    found = _LINE.match(text)
    if found is None:
        return None
    time, direction, said = found.groups()
    try:
        stamp = datetime.fromisoformat(time + "+00:00").timestamp()
    except ValueError:  # the digits are there, but no such day or hour
        return None
    return TrafficLine(stamp, _DIRECTIONS[direction], said or "")
