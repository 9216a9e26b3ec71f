"""The talk about the line itself: acknowledgements, resends, keep-alive.

    ok                    ok N128 P15 B3         ok 128        ok N:128       taken; the line's number where one was sent
    Resend: 42            rs N42                 rs N42 Expected checksum 17  say line 42 again
    echo:busy: processing                        busy:heating                 alive, takes no commands now
    wait                                                                      its receiver is empty

Source: RepRap community wiki, page "G-code", "Replies from the RepRap machine to the host computer"; keep-alive: M113.
"""

import re

from watchdog.core.observations import Acknowledged, Busy, LineFault, Observation, Resend

_ACKNOWLEDGED = re.compile(
    r"ok(?![\w.])(?:\s+N?:?(\d{1,9})(?!\S))?(?:\s+P\d{1,4}(?!\S))?(?:\s+B\d{1,4}(?!\S))?\s*", re.ASCII
)
_RESEND = re.compile(r"(?:Resend|rs)\s*:?\s*N?\s*:?\s*(\d{1,9})(?!\S)(.*)", re.ASCII | re.IGNORECASE)
_LINE_FAULT = re.compile(
    r"line number is not last line number|expected line(?: number)? \d|checksum mismatch|wrong checksum"
    r"|expected checksum|checksum error on line|no checksum with line|no line number with checksum",
    re.ASCII | re.IGNORECASE,
)
_BUSY = {
    "processing": "processing",
    "heating": "heating",
    "paused for user": "person",
    "paused for user interaction": "person",
    "paused for input": "input",
    "door open": "door",
}


def read_acknowledged(line: str) -> tuple[Acknowledged, str] | None:
    """The acknowledgement at the start of `line` and what follows it."""
    found = _ACKNOWLEDGED.match(line)
    if found is None:
        return None
    number = found[1]
    return Acknowledged(None if number is None else int(number)), line[found.end() :]


def read_resend(line: str) -> tuple[Observation, ...] | None:
    """A request to say a line again, with its reason where one stands beside it."""
    found = _RESEND.match(line)
    if found is None:
        return None
    asked = Resend(int(found[1]))
    return (asked, LineFault(line)) if _LINE_FAULT.search(found[2]) else (asked,)


def read_line_fault(line: str) -> tuple[Observation, ...] | None:
    """A streamed line was refused for its number or its checksum. One is routine; many mean a bad cable."""
    return (LineFault(line),) if _LINE_FAULT.search(line) else None


def read_busy(line: str) -> tuple[Observation, ...] | None:
    """The keep-alive, with or without the blank behind its colon."""
    if not line.startswith("busy:"):
        return None
    return (Busy(_BUSY.get(line[5:].strip(), "other")),)
