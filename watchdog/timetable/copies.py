"""The last good copy of each calendar, in the state folder: used while the source is away.

A copy belongs to its source: when the settings name another, it no longer counts. Calendars can hold what is nobody's
business, so the folder is 0700 and each file 0600. Written beside and renamed: a power cut leaves the old copy or the new one.
"""

import hashlib
import json
import os
from pathlib import Path
from typing import NamedTuple

from watchdog.timetable.fetching import Validators
from watchdog.timetable.options import Source


class Copy(NamedTuple):
    """A calendar that could be read."""

    content: bytes
    confirmed: float
    """stamp at which its source last said that this is the calendar"""
    validators: Validators


def load(folder: Path, name: str, source: Source) -> Copy | None:
    """The copy; None where there is none of this source, or none that is whole."""
    try:
        head, _, content = _place(folder, name).read_bytes().partition(b"\n")
        told = json.loads(head)
        if told["source"] != _mark(source) or told["digest"] != hashlib.sha256(content).hexdigest():
            return None
        return Copy(content, float(told["confirmed"]), Validators(told["etag"], told["last_modified"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None


def save(folder: Path, name: str, source: Source, copy: Copy) -> None:
    """Keep `copy`. Raises OSError when it cannot be kept."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    head = {
        "source": _mark(source),
        "digest": hashlib.sha256(copy.content).hexdigest(),
        "confirmed": copy.confirmed,
        "etag": copy.validators.etag,
        "last_modified": copy.validators.last_modified,
    }
    place = _place(folder, name)
    beside = place.with_suffix(".new")
    descriptor = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_TRUNC | os.O_CLOEXEC, 0o600)
    with open(descriptor, "wb") as opened:
        opened.write(json.dumps(head).encode() + b"\n" + copy.content)
        opened.flush()
        os.fsync(descriptor)
    beside.replace(place)


def _place(folder: Path, name: str) -> Path:
    return folder / f"{name}.calendar"


def _mark(source: Source) -> str:
    """What tells one source from another, without its address."""
    return hashlib.sha256(f"{source.file}\n{source.address}".encode()).hexdigest()
