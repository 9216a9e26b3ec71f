"""Words to a person or to the program at the other end.

    // action:paused filament_runout 0        a word to the host, with or without the blank; listened to, never answered
    RequestPause:Extruder Jam Detected!       the same from an older code base
    echo:Insert filament and send M108        somebody is asked to do something
    echo:enqueueing "M23 cup~1.gco"           somebody chose something at the machine's panel

Source: RepRap community wiki, page "G-code", "Action commands".
"""

import re

from watchdog.core.observations import Action, Fault, FaultKind, Observation, Remark, Waiting
from watchdog.dialect import faults, sent

_ACTION = re.compile(r"//\s*action:\s*(\S+)\s*(.*)", re.DOTALL)
_WAITING = re.compile(r"\bsend m108\b|\bpress button\b|\binsert filament\b", re.IGNORECASE)
_ENQUEUED = re.compile(r"enque(?:ue)?ing\s*\"([^\"]*)\"", re.IGNORECASE)
_REQUESTS = {"RequestPause:": "pause", "RequestContinue:": "resume", "RequestStop:": "cancel"}
_RUN_OUT = re.compile(r"filament_?runout|out_of_filament", re.IGNORECASE)
_MAY_NAME_RUN_OUT = {"pause", "paused", "filament_runout", "out_of_filament", "prompt_begin"}


def read_host_line(line: str) -> tuple[Observation, ...] | None:
    """A line that begins with ``//``: a word to the host, a fault in words, or a comment."""
    if not line.startswith("//"):
        return None
    found = _ACTION.fullmatch(line)
    if found is None:
        return faults.read(line) or (Remark(line),)
    word, argument = found[1].lower(), found[2].strip()
    told = Action(word, argument)
    if word in _MAY_NAME_RUN_OUT and _RUN_OUT.search(f"{word} {argument}"):
        return told, Fault(FaultKind.FILAMENT_OUT, line)
    if word == "poweroff":  # the last word of a halt, in some builds the only one
        return told, Fault(FaultKind.HALT, line, halted=True)
    if word == "probe_failed":
        return told, Fault(FaultKind.PROBING, line)
    return (told,)


def read_request(line: str) -> tuple[Observation, ...] | None:
    """The older form of an action, with the fault that it names."""
    head, colon, reason = line.partition(":")
    word = _REQUESTS.get(head + colon)
    return None if word is None else (Action(word, reason.strip()), *faults.read(line))


def read_waiting(line: str) -> tuple[Observation, ...] | None:
    """Somebody is asked to do something at the machine."""
    return (Waiting(line),) if _WAITING.search(line) else None


def read_enqueued(line: str) -> tuple[Observation, ...] | None:
    """A command that the panel has put into the queue. It was not sent over the wire; the line's direction tells that."""
    found = _ENQUEUED.fullmatch(line)
    return None if found is None else (Remark(line), *sent.read(found[1]))
