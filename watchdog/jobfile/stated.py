"""Durations that a job file states about itself.

    ;TIME:15792                                   bare seconds, where the key says so
    ; expected job time (normal) = 4h 23m 12s     with days too: 1d 2h 3m 4s
    ; job time: 4:23:12                           or 4:23 (h:min)
    ; total time = 4 hours 23 minutes
    ;TIME_ELAPSED:1532.4                          a running mark: the last one is nearest to the whole
    M73 P0 R263                                   minutes left, at the beginning

Only the first and the last 64 KiB are looked at. Values are the file writer's belief about some machine, so a plan of our
own comes first, then elapsed marks, then M73, then a comment in the head or the tail. A time in a list of settings may be a
limit rather than an estimate, so a key must not speak of limits, layers, waiting or cooling.

Source: shapes in common use by writers of job files, and M73 of the RepRap community wiki, page "G-code".
"""

import re

from watchdog.core.plan import Stated

REACH = 65_536
"""bytes at either end"""
LONGEST = 10 * 365 * 86400.0
"""s: more is no duration"""

_COMMENT = re.compile(r"^[ \t]*;(.*)$", re.MULTILINE)
_KEY = re.compile(
    r"^\s*([^:=\n]{0,60}?\btime\b[^:=\n]{0,40}|[^:=\n]{0,60}?time[^:=\n]{0,40}|[^:=\n]{0,40}seconds)\s*[:=]\s*(.+?)\s*$",
    re.IGNORECASE,
)
_REFUSED = re.compile(
    r"layer|limit|min(?:imum)?[_ ]|max(?:imum)?[_ ]|wait|cool|slow|fan|dwell|delay|idle|date|stamp|heat|change|lapse|purge",
    re.IGNORECASE,
)
_ELAPSED = re.compile(r"elapsed", re.IGNORECASE)
_SECONDS_KEY = re.compile(
    r"^[\s\w]*?(?:\btime(?:\(s\)|_?s(?:ec(?:onds)?)?)?|seconds|elapsed)\s*(?:\(s\))?$", re.IGNORECASE
)
_NUMBER = re.compile(r"^\d{1,9}(?:\.\d{1,6})?$")
_CLOCK = re.compile(r"^(\d{1,4}):([0-5]\d)(?::([0-5]\d))?$")
_UNIT = re.compile(
    r"(\d{1,9}(?:\.\d{1,6})?)\s*(days?|d|hours?|hrs?|h|minutes?|mins?|m|seconds?|secs?|s)(?![a-z])[\s,]*(?:and\s+)?",
    re.IGNORECASE,
)
_PER = {"d": 86400.0, "h": 3600.0, "m": 60.0, "s": 1.0}
_LEFT = re.compile(r"^\s*M73(?=\s)[^;\n]*?\sR\s*(\d{1,7}(?:\.\d{1,3})?)", re.MULTILINE | re.IGNORECASE)
_PERCENT = re.compile(r"\sP\s*(\d{1,3})", re.IGNORECASE)


def seconds_in(value: str, *, bare: bool) -> float | None:
    """The duration that a text means; None when it means none. `bare`: a number alone is seconds."""
    value = value.strip()
    if _NUMBER.match(value):
        return float(value) if bare else None
    clock = _CLOCK.match(value)
    if clock is not None:
        hours, minutes, seconds = clock.groups()
        return int(hours) * 3600.0 + int(minutes) * 60.0 + int(seconds or 0)
    total, at = 0.0, 0
    while at < len(value):
        part = _UNIT.match(value, at)
        if part is None:
            return None
        total += float(part[1]) * _PER[part[2][0].lower()]
        at = part.end()
    return total if at else None


def stated_in(text: str) -> tuple[Stated, ...]:
    """Every duration stated in a part of a file, in its order; of elapsed marks and of M73 the telling one only."""
    found: list[Stated] = []
    elapsed: Stated | None = None
    for comment in _COMMENT.finditer(text):
        if len(comment[1]) > 200 or not ("time" in (low := comment[1].lower()) or "seconds" in low):
            continue
        key = _KEY.match(comment[1])
        if key is None:
            continue
        running = _ELAPSED.search(key[1]) is not None
        if not running and _REFUSED.search(key[1]):
            continue
        seconds = seconds_in(key[2], bare=_SECONDS_KEY.match(key[1].strip()) is not None or running)
        if seconds is None or not 0 < seconds < LONGEST:
            continue
        line = comment[0].strip()[:120]
        if running:
            elapsed = Stated(seconds, "elapsed", line)
        else:
            found.append(Stated(seconds, "comment", line))
    left = _LEFT.search(text)
    if left is not None and 0 < float(left[1]) * 60 < LONGEST:
        percent = _PERCENT.search(left[0])
        if percent is None or int(percent[1]) <= 1:  # later marks speak of what is left of a part
            found.insert(0, Stated(float(left[1]) * 60, "M73", left[0].strip()[:120]))
    return ((elapsed,) if elapsed else ()) + tuple(found)


class Ends:
    """Keeps the first and the last 64 KiB of a file that goes by."""

    def __init__(self) -> None:
        self._head = b""
        self._tail = b""

    def feed(self, piece: bytes) -> None:
        """The next bytes."""
        if len(self._head) < REACH:
            room = REACH - len(self._head)
            self._head += piece[:room]
            piece = piece[room:]
        if piece:
            self._tail = piece[-REACH:] if len(piece) >= REACH else (self._tail + piece)[-REACH:]

    def stated(self) -> tuple[Stated, ...]:
        """What head and tail state, the most telling first."""
        head = stated_in(self._head.decode("utf-8", "replace").replace("\r", "\n"))
        tail = stated_in(self._tail.decode("utf-8", "replace").replace("\r", "\n"))
        marks = [each for each in head + tail if each.by == "elapsed"][-1:]
        rest = [each for each in head if each.by != "elapsed"] + [each for each in tail if each.by == "comment"]
        rest.sort(key=lambda each: each.by != "M73")
        return tuple(marks + rest)[:8]
