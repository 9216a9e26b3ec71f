"""What the questions about jobs, labels and upkeep answer. Times are stamps; None is unknown, or was not said."""

from enum import StrEnum
from typing import NamedTuple

from watchdog.core.effects import Priority, TellKind
from watchdog.core.finding import Evidence


class Subject(StrEnum):
    """What a label is about."""

    JOB = "job"
    INCIDENT = "incident"
    ALARM = "alarm"
    """one occurrence of one alarm"""
    FIRST_LAYER = "first-layer"
    """of a job, as somebody saw it"""


class Result(StrEnum):
    """What a person says of it."""

    GOOD = "good"
    FAILED = "failed"
    UNKNOWN = "unknown"
    BAD = "bad"
    """of a first layer, as the next"""
    SKIPPED = "skipped"


class Usefulness(StrEnum):
    """What a person says of an alarm."""

    USEFUL = "useful"
    NUISANCE = "nuisance"
    LATE = "late"


class LabelRow(NamedTuple):
    """One thing that one person said. A later label corrects it; it is never changed."""

    id: int
    kind: Subject
    subject: int | None
    """id of the job, incident or alarm occurrence; None: its row was lost with a damaged file"""
    machine: str
    subject_at: float
    """when the job began, the incident was opened, the alarm was raised"""
    outcome: Result | None
    cause: str | None
    origin: str | None
    remedy: str | None
    note: str | None
    usefulness: Usefulness | None
    sheet: int | None
    """the build surface, at an answer about a first layer"""
    sheet_age: int | None
    """jobs that had begun on it before"""
    by: str
    how: str
    """'command', 'link', 'page' …"""
    at: float


class LabelNow(NamedTuple):
    """The latest word on each part of a subject."""

    outcome: Result | None
    cause: str | None
    origin: str | None
    remedy: str | None
    note: str | None
    usefulness: Usefulness | None


class Unlabelled(NamedTuple):
    """Something that nobody has said anything of yet."""

    kind: Subject
    id: int
    machine: str
    at: float
    """when the job ended, the incident was opened, the alarm was raised"""
    what: str
    """the job's ending on the wire, the name of the alarm, the names of an incident's alarms"""


class OccurrenceRow(NamedTuple):
    """One occurrence of an alarm, with what people said of it and when they were told."""

    id: int
    incident: int
    machine: str
    alarm: str
    occurrence: int
    priority: Priority
    evidence: Evidence
    """at its raising"""
    raised: float
    acknowledged: float | None
    acknowledged_by: str | None
    acknowledged_how: str | None
    returned: float | None
    cleared: float | None
    let_go: float | None
    messages: int
    first_told: float | None
    """when the first message was delivered to anybody"""
    label: LabelNow


class MessageRow(NamedTuple):
    """One message to one person, without its words."""

    id: int
    incident: int | None
    machine: str
    alarm: str
    occurrence: int
    kind: TellKind
    nth: int
    person: str
    priority: Priority
    at: float
    created: float
    not_before: float | None
    loud: bool
    why: str
    attempts: int
    delivered: float | None
    given_up: float | None
    given_up_why: str | None


class BlindRow(NamedTuple):
    """A time in which a machine was not seen."""

    machine: str
    cause: str
    """'watch': the watch was off or asleep; 'link': the machine could not be reached"""
    since: float
    until: float | None
    """None: not seen yet"""


class HotTime(NamedTuple):
    """Minutes in which the nozzle was hot, as far as they were seen."""

    in_jobs: int
    idle: int


class UpkeepRow(NamedTuple):
    """What a machine has done since something was last seen to."""

    machine: str
    item: str
    done: float | None
    """None: never, so it is counted from the beginning of the record"""
    by: str | None
    note: str | None
    jobs: int
    """that ended since"""
    active: float
    """s that they were executed; where that is not known, from start to end"""
    hot: int
    """minutes in which the nozzle was hot"""
    grams: float
    jobs_without_time: int
    """of those jobs, so many add nothing to `active`: nobody saw how long they took"""
    jobs_without_grams: int


class DoneRow(NamedTuple):
    """Something was seen to."""

    machine: str
    item: str
    at: float
    by: str
    note: str


class SheetRow(NamedTuple):
    """One build surface."""

    id: int
    machine: str
    started: float
    started_by: str
    ended: float | None
    """None while it is in use"""
    ended_by: str | None
    why: str | None
    note: str
    jobs: int
    """that began on it"""


class SpoolRow(NamedTuple):
    """One spool, and what should be left on it by the account."""

    id: int
    machine: str
    material: str
    density: float
    """g/cm³"""
    diameter: float
    """mm, as last measured, else as noted at loading"""
    loaded: float
    loaded_by: str
    unloaded: float | None
    net: float | None
    """g of filament at loading"""
    empty: float | None
    """g of the spool without filament"""
    weighed: float | None
    """when it was last weighed"""
    used_mm: float
    """taken by jobs since it was last weighed, or loaded"""
    left_mm: float | None
    """None where its weight was never known; below 0 when the account is wrong: weigh it"""
    left_g: float | None
    jobs_without_length: int
    """jobs since then of which nobody knows what they took"""
    note: str


class DiameterRow(NamedTuple):
    """Filament that somebody measured."""

    machine: str
    spool: int | None
    mm: float
    at: float
    by: str
    note: str
