"""What a label, or `show`, is about: j41 a job, 12 an incident, a77 one occurrence of an alarm, machine/alarm its latest."""

import re
from typing import Final

from watchdog.record.reader import Reader
from watchdog.record.term_rows import Subject

FORMS: Final = "Write j41 for a job, 12 for an incident, a77 for an alarm, or doorway-1/hot-idle for its latest."
_NUMBERED: Final = re.compile(r"(j|job|i|incident|a|alarm)?[ ]?#?(\d{1,18})", re.ASCII | re.IGNORECASE)
_KINDS: Final = {"j": Subject.JOB, "a": Subject.ALARM, "i": Subject.INCIDENT, "": Subject.INCIDENT}
LETTERS: Final = {Subject.JOB: "j", Subject.ALARM: "a", Subject.INCIDENT: "i", Subject.FIRST_LAYER: "j"}
_LISTS: Final = {
    Subject.JOB: "`emberward jobs` lists them.",
    Subject.INCIDENT: "`emberward incidents` lists them.",
    Subject.ALARM: "`emberward show` of an incident names its alarms.",
}


class NoSubject(ValueError):
    """Nothing that can be labelled or shown."""


def numbered(written: str) -> tuple[Subject, int] | None:
    """What `written` means by its letter and number; None when it is no such form."""
    found = _NUMBERED.fullmatch(written.strip())
    return None if found is None else (_KINDS[(found[1] or "").lower()[:1]], int(found[2]))


def subject(record: Reader, written: str) -> tuple[Subject, int]:
    """What `written` means. Raises NoSubject with a sentence that helps."""
    if (found := numbered(written)) is not None:
        return found
    machine, slash, alarm = written.strip().rpartition("/")
    if not slash:
        raise NoSubject(f"{written[:60]!r} is nothing that can be labelled. {FORMS}")
    latest = record.alarm_id(machine, alarm)
    if latest is None:
        raise NoSubject(f"no alarm {written[:60]!r} is in the record. {FORMS}")
    return Subject.ALARM, latest


def missing(kind: Subject, number: int) -> NoSubject:
    """For something of that number that there is not."""
    return NoSubject(f"there is no {kind.value} {number}. {_LISTS.get(kind, '')}")
