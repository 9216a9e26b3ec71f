"""Lines that came from the machine: which reader takes which line.

Whole lines come first, then what the first character tells, then the prefixes (`echo:`, `Error:`, `//` …), then the
texts, and the words of faults last, anywhere in the line. The order matters in three places: positions before
temperatures (both have `C:` and `E:`), file names before faults (a file may be called anything), and line faults before
faults (both begin with `Error:`).
"""

import re
from collections.abc import Callable

from watchdog.core.observations import (
    Acknowledged,
    FileNamed,
    FileOpened,
    Idle,
    IdleHeatCut,
    Observation,
    Remark,
    Started,
    Unread,
)
from watchdog.dialect import banner, card, faults, job, link, people, position, temperatures
from watchdog.dialect.damage import bare, holds_controls, is_damaged, mended

Meaning = tuple[Observation, ...]
Reader = Callable[[str], Meaning | None]

LONGEST = 4096  # characters; no controller prints longer lines, so such a line is rubbish run together

_WHOLE: dict[str, Meaning] = {
    "ok": (Acknowledged(),),
    "wait": (Idle(),),
    "ok - ignored": (Acknowledged(), Remark("- ignored")),
    **banner.WHOLE,
    **card.WHOLE,
    **job.WHOLE,
}
_TEXTS: tuple[Reader, ...] = (
    link.read_busy,
    banner.read_setting,
    banner.read_unknown_command,
    card.read_file,
    people.read_enqueued,
    people.read_waiting,
    job.read_elapsed,
    job.read_claim,
    job.read_override,
    job.read_ending,
)
_BARE: tuple[Reader, ...] = (
    link.read_resend,
    link.read_line_fault,
    faults.read_marked,
    people.read_host_line,
    people.read_request,
    banner.read_about,
    job.read_counters,
    *_TEXTS,
    card.read_progress,
    card.read_listed,
)
# Whole prefixes that only inform. `Echo:` repeats an executed command and must not be read as a reply.
_INFORMS = re.compile(r"(?:Echo|DEBUG|Info|Warning|WARNING|important|TargetExtr\d|TargetBed|Fanspeed|MTEMP):|skip \d")


def read(text: str) -> Meaning:
    """What a received line means. Empty for a blank line; `Unread` for one that is not understood. Never raises."""
    line = bare(text)
    if not line:
        return ()
    if is_damaged(line):
        return _read_damaged(line) or (Unread(text, damaged=True),)
    if len(line) > LONGEST:
        return (Unread(text),)
    return _understood(line) or (Unread(text),)


def _understood(line: str, acknowledged: bool = False) -> Meaning | None:
    known = _WHOLE.get(line)
    if known is not None:
        return known
    first = line[0]
    if first == "o" and not acknowledged:
        taken = _read_ok(line)
        if taken is not None:
            return taken
    if first in "XC":
        placed = position.read(line)
        if placed is not None:
            return placed
    elif first == "S":
        progress = card.read_progress(line)
        if progress is not None:
            return progress
    elif first == "e" and line.startswith("echo:"):
        return _read_echo(line)
    if ":" in line:
        heat = temperatures.read(line, acknowledged)
        if heat is not None:
            return (heat,)
    for reader in _BARE:
        meaning = reader(line)
        if meaning is not None:
            return meaning
    told = faults.read(line)
    if told:
        return told
    if "Hotend Idle Timeout" in line:
        return (IdleHeatCut(),)
    return (Remark(line),) if _INFORMS.match(line) else None


def _read_ok(line: str) -> Meaning | None:
    """`ok`, and whatever the line holds besides."""
    taken = link.read_acknowledged(line)
    if taken is None:
        return None
    acknowledgement, rest = taken
    if not rest:
        return (acknowledgement,)
    return (acknowledgement, *(_understood(rest, acknowledged=True) or (Unread(rest),)))


def _read_echo(line: str) -> Meaning:
    """Information, or a message in the clothes of one."""
    content = line[5:].strip()
    known = _WHOLE.get(content)
    if known is not None and content not in (
        "ok",
        "wait",
        "start",
    ):  # a job can echo any text; only the bare line counts
        return known
    for reader in _TEXTS:
        meaning = reader(content)
        if meaning is not None:
            return meaning
    if "Hotend Idle Timeout" in content:
        return (IdleHeatCut(),)
    return link.read_line_fault(content) or faults.read(line) or (Remark(line),)


def _read_damaged(line: str) -> Meaning | None:
    """Only what noise cannot falsify: whole words, never a number that it may have cut.

    A reset often throws noise in front of the banner, and file names and fault texts come in unknown encodings.
    """
    if len(line) > LONGEST:
        return None
    if mended(line) == "start":
        return (Started(),)
    if line.startswith("ok "):  # the acknowledgement is whole, what follows is not
        return Acknowledged(), *(faults.read(line) or (Unread(line, damaged=True),))
    if not holds_controls(line):
        named = card.read_file(line.removeprefix("echo:").strip())
        if named is not None and isinstance(named[0], FileOpened | FileNamed):
            return named
        if line.startswith("//"):
            return people.read_host_line(line)
    return faults.read(line) or None
