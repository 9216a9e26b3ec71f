"""What the queries answer. Every time is a stamp (s since 1970-01-01T00:00Z) unless it says otherwise; None is unknown."""

from typing import NamedTuple

from watchdog.core.effects import Priority, Tell, Transition
from watchdog.core.finding import Evidence
from watchdog.core.traffic import Direction
from watchdog.record.parcels import Outcome
from watchdog.record.term_rows import LabelNow, LabelRow


class IncidentRow(NamedTuple):
    """One incident in a list."""

    id: int
    machine: str
    opened: float
    quiet: float | None
    """when its last alarm returned; None while one is present"""
    standing: int
    """alarms of it that are not cleared yet: somebody may still have to act or to acknowledge"""
    alarms: tuple[str, ...]
    """names, in the order in which they were first raised"""
    priority: Priority
    """the highest of its alarms"""
    acknowledged_by: tuple[str, ...]
    messages: int


class Step(NamedTuple):
    """One transition of an alarm."""

    at: float
    transition: Transition
    priority: Priority
    evidence: Evidence
    by: str | None
    how: str | None
    note: str | None


class AlarmRow(NamedTuple):
    """One occurrence of an alarm with its life."""

    id: int
    """by which it is labelled"""

    alarm: str
    occurrence: int
    priority: Priority
    """as last told"""
    evidence: Evidence
    """at its raising"""
    raised: float
    acknowledged: float | None
    acknowledged_by: str | None
    acknowledged_how: str | None
    returned: float | None
    cleared: float | None
    let_go: float | None
    """when it ended unseen, because the watch had lost its memory or the alarm was raised afresh"""
    steps: tuple[Step, ...]


class Standing(NamedTuple):
    """An alarm that is not cleared."""

    machine: str
    alarm: str
    occurrence: int
    incident: int
    priority: Priority
    evidence: Evidence
    raised: float
    acknowledged: float | None
    acknowledged_by: str | None
    returned: float | None
    """set: the condition has gone, and the alarm waits for a person"""
    shelved: bool


class AttemptRow(NamedTuple):
    """One attempt at delivery."""

    at: float
    route: str
    outcome: Outcome
    detail: str


class Message(NamedTuple):
    """What one person was told, or is still to be told."""

    created: float
    person: str
    tell: Tell
    attempts: tuple[AttemptRow, ...]
    delivered: float | None
    given_up: float | None
    given_up_why: str | None
    not_before: float | None
    """when it was to go out at the earliest; None: at once"""
    loud: bool
    """by all of the person's routes at the same time"""
    why: str
    """why this person: 'on duty', 'nobody answered for 10 min', …; empty where nothing was said"""


class StateRow(NamedTuple):
    """One axis of the state changed."""

    at: float
    axis: str
    before: str
    after: str


class JobStep(NamedTuple):
    """A job started, was held, resumed or ended."""

    at: float
    event: str
    number: int
    file: str | None
    since_start: float
    """s"""
    why: str | None


class NoteRow(NamedTuple):
    """An event that asks nothing of anybody."""

    at: float
    kind: str
    facts: Evidence


class ReadingRow(NamedTuple):
    """What the machine reported, °C."""

    at: float
    nozzle: float | None
    nozzle_target: float | None
    bed: float | None
    bed_target: float | None
    progress: float | None


class LineRow(NamedTuple):
    """One raw line of traffic."""

    at: float
    direction: Direction
    text: str


class Incident(NamedTuple):
    """Everything that is known of one incident, each part in the order of time."""

    row: IncidentRow
    alarms: tuple[AlarmRow, ...]
    labels: tuple[LabelRow, ...]
    """what people said of the incident and of its alarms, in the order in which it was said"""
    messages: tuple[Message, ...]
    states: tuple[StateRow, ...]
    jobs: tuple[JobStep, ...]
    notes: tuple[NoteRow, ...]
    readings: tuple[ReadingRow, ...]
    readings_dropped: int
    """more than an incident keeps, or past their time"""
    lines: tuple[LineRow, ...]
    lines_dropped: int


class JobRow(NamedTuple):
    """One job."""

    machine: str
    number: int
    file: str | None
    size: int | None
    origin: str
    started: float
    ended: float | None
    """None while it runs"""
    ending: str | None
    """as it showed on the wire: 'completed', 'abandoned', 'halted', 'lost' for lost contact; 'unseen' when the watch did not
    see it end"""
    why: str | None
    seconds: float | None
    """from start to end, holds included"""
    holds: int
    id: int
    """by which it is labelled"""
    name_hash: str | None
    """equal for equal file names, also where the name is not kept"""
    digest: str | None
    """hash of the file's content"""
    active: float | None
    """s, as the next two"""
    held: float | None
    heating: float | None
    planned: float | None
    """s for the whole job, holds not included, as expected when it began"""
    planned_low: float | None
    planned_high: float | None
    planned_by: str | None
    material: str | None
    filament_mm: float | None
    filament_g: float | None
    sheet: int | None
    """the build surface that it began on; None when none was entered"""
    sheet_age: int | None
    """jobs that had begun on it before"""
    blind: float | None
    """s in which it was not seen; None while it runs"""
    label: LabelNow


class EventRow(NamedTuple):
    """One line of the log."""

    at: float
    machine: str
    kind: str
    """'alarm', 'state', 'job' or 'noted'"""
    what: str
    """'hot-idle raised', 'execution preparing → building', 'job started', 'blind'"""
    facts: Evidence


class MinuteRow(NamedTuple):
    """One minute of telemetry, °C; None where nothing was reported."""

    at: float
    """its beginning"""
    nozzle_low: float | None
    nozzle_mean: float | None
    nozzle_high: float | None
    nozzle_target: float | None
    bed_low: float | None
    bed_mean: float | None
    bed_high: float | None
    bed_target: float | None
    progress: float | None
