"""What is known about one machine at one moment: all that a detector ever sees.

Built by `core.machine` from observations alone. Missing is None and stays None: lost data makes `unavailable` and
`unknown`, never `ready` and `cold`. Every time below is `elapsed` (s, never steps back) unless it says `stamp`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from watchdog.core.observations import Fault
from watchdog.core.timetable import Presence


class Link(StrEnum):
    """The wire to the machine."""

    AVAILABLE = "available"
    UNAVAILABLE = "unavailable"


class Execution(StrEnum):
    """What the machine is doing (after the shape of MTConnect's EXECUTION)."""

    UNAVAILABLE = "unavailable"
    READY = "ready"
    PREPARING = "preparing"
    """a job has started and warms up, homes or probes; no material yet"""
    BUILDING = "building"
    PAUSED = "paused"
    """held by command"""
    WAITING = "waiting"
    """the machine asks for somebody"""
    STOPPED = "stopped"
    """ended early"""
    COMPLETE = "complete"
    FAULTED = "faulted"
    """the machine reported a fault that ended what it did"""


class Hotend(StrEnum):
    """The nozzle's heat. Needs a fresh and plausible reading, else unknown."""

    UNKNOWN = "unknown"
    COLD = "cold"
    HEATING = "heating"
    HOT = "hot"
    COOLING = "cooling"


class Origin(StrEnum):
    """Where a job's lines come from."""

    CARD = "card"
    STREAMED = "streamed"


class Source(StrEnum):
    """How the machine is watched. A serial source asks and expects answers; the others only listen."""

    SERIAL = "serial"
    LISTENING = "listening"


@dataclass(frozen=True, slots=True)
class Heater:
    """One heater as last told."""

    now: float | None = None
    """°C as printed, implausible values included; None when never told or when the link is blind"""
    target: float | None = None
    """°C; 0 = off; the last one told, since some reports leave it out"""
    power: int | None = None
    """as printed; None when not told"""
    power_top: int | None = None
    """highest power ever printed by this machine: the best guess of full scale"""
    at: float | None = None
    """elapsed of the report that `now` comes from"""
    previous: float | None = None
    """°C: the reading before `now`"""
    previous_at: float | None = None
    target_since: float | None = None
    """when the target took its present value"""
    target_at: float | None = None
    """when the target was last told, by a report or a command; None when that is not followed. Older than `at` where a
    report leaves the target out"""


@dataclass(frozen=True, slots=True)
class Job:
    """The job that is executing, or the last one until the next begins."""

    number: int
    """counts the jobs of this machine since the watch first saw it; part of a job's identity in the record"""
    origin: Origin
    file: str | None
    """as the machine names it; the long name where it is known"""
    size: int | None
    """bytes of a card job"""
    started: float
    started_stamp: float
    progress: int | None = None
    """bytes read (card) or lines acknowledged (streamed); None until something was told"""
    moved_at: float | None = None
    """when progress last moved (bytes, lines, or the percentage that the machine reports); None until it first did"""
    building_since: float | None = None
    """when it first left `preparing`"""
    held_since: float | None = None
    """set while it is paused or waiting"""
    held: float = 0.0
    """s held so far, the running hold not included"""
    heating: float = 0.0
    """s spent heating up so far"""
    ended: float | None = None
    ending: str | None = None
    """'completed', 'abandoned', 'halted' or 'lost' once it has ended"""
    percent: float | None = None
    left: float | None = None
    """s left as the machine (M73) believes, at `left_at`"""
    left_at: float | None = None
    expected: float | None = None
    """s that the whole job should take, holds not included"""
    expected_by: str | None = None
    """'machine', 'operator', 'plan', 'file' or 'history'"""
    expected_late: float | None = None
    """s: upper prediction bound where somebody gave one; None = use the detector's own margin"""
    stall_limit: float | None = None
    """s without progress that the plan allows at this place; None without a plan"""
    running: bool | None = None
    """the machine itself says that it executes (True) or not (False); None when it has not said since the job began"""


class Usual(NamedTuple):
    """What this machine's own healthy jobs have shown to be usual of one subject (`core.learning.SUBJECTS`)."""

    middle: float
    spread: float
    """standard deviation of the undisturbed part"""
    jobs: int
    most: float | None = None
    """the highest that any of these jobs showed; None where that says nothing"""


class SensorKind(StrEnum):
    """What a sensor beside the machine measures."""

    FILAMENT_MOTION = "filament-motion"
    """mm of filament that went past it, counted up since it was switched on"""
    FILAMENT_PRESENT = "filament-present"
    """1 there, 0 not"""
    DOOR = "door"
    """1 open, 0 closed"""
    ROOM_TEMPERATURE = "room-temperature"
    """°C"""
    HUMIDITY = "humidity"
    """% relative"""
    SMOKE = "smoke"
    """as the sensor tells it; 1 where it only tells yes or no"""
    MAINS_POWER = "mains-power"
    """W that the machine takes"""
    LIMIT = "limit"
    """anything else, judged by its limits alone"""


class Sensed(NamedTuple):
    """One sensor as last told."""

    name: str
    kind: SensorKind
    value: float | None
    """in the unit of its kind; None when never told, not to be told, or stale"""
    at: float | None
    """elapsed of the message that `value` comes from"""
    stale: bool
    """nothing was heard of it for longer than it may be quiet"""
    low: float | None = None
    """below it somebody should look; None: no such limit"""
    high: float | None = None
    """above it somebody should look"""
    since: float | None = None
    """elapsed since when it has said the same; mains power: since when it has been on the same side of a heater's power"""
    unit: str = ""
    """in what its values are shown; '' = they have none"""


@dataclass(frozen=True, slots=True)
class Snapshot:
    """One machine at one moment."""

    at: float
    stamp: float
    source: Source
    link: Link
    link_since: float
    """when `link` took its present value"""
    execution: Execution
    execution_since: float
    hotend: Hotend
    sighted_since: float
    """when the watch last began to see after a blind time (start, restart, sleep): silence and stillness count from here
    at the earliest"""
    melts_at: float
    """°C: nozzle temperature from which the loaded plastic melts; 'heat' in the alarm table"""
    nozzle: Heater
    bed: Heater
    job: Job | None
    """the present job, or the last one with `ended` set"""
    active: bool | None
    """a job is executing (preparing, building), or held within one (paused, waiting); None when that cannot be told"""
    heating_up: bool | None
    """the machine warms up towards a target by what it says or by its readings; None when that cannot be told"""
    heard: float | None
    """when the machine last said anything"""
    owed_since: float | None
    """when the oldest command or query that is still unanswered was sent; None when nothing is owed"""
    unanswered: int
    """queries in a row that brought no answer in their time"""
    rhythm: float | None
    """s: the longest gap between lines in the recent past while the machine was well; None before it is known"""
    blocking_since: float | None
    """when a command was sent that may rightly keep the machine silent (homing, probing, heating); None when none runs"""
    waits_for_person: bool
    """the machine says that it waits for somebody"""
    waits_since: float | None
    wait_planned: bool
    """the wait was asked for by the job or by a person (filament change, pause), not by a fault"""
    flow_at: float | None
    """when material was last seen to flow (a card job that builds, streamed extrusion); None when never seen"""
    flowed: float
    """mm of filament fed since the watch began, as far as the wire tells; grows only"""
    fed_in_place: float
    """mm of filament fed while X, Y and Z stood still, since they last moved; 0 where positions are not told"""
    restarted_at: float | None
    """when the controller last sent its start-up banner"""
    reset_cause: str | None
    restart_broke: bool
    """at that banner a job was active or heat was on"""
    faults: tuple[tuple[float, Fault], ...]
    """what the machine reported, newest last, at most 32, kept until the controller restarts or a new job starts"""
    resends: int
    """lines that the machine asked for again, since the watch began"""
    lines_sent: int
    """numbered lines sent, since the watch began"""
    byte_fell_at: float | None
    """when the card's byte counter last ran back within one and the same job"""
    card_gone_at: float | None
    """when the card was let go while a job ran from it"""
    heat_when_lost: bool
    """when last heard: nozzle hot, or a heater target above 0, or a job active"""
    chosen_at: float | None
    """when a file was chosen that has not started yet; None when none is"""
    impairments: tuple[str, ...] = ()
    """what keeps the watch itself from doing its work; only set for the watch's own world"""
    slept_at: float | None = None
    """when the computer that streams the present or last job last woke in the middle of it; None when it never slept"""
    slept: float = 0.0
    """s that the stream stood still until `slept_at`"""
    usual: Mapping[str, Usual] = field(default_factory=dict)
    """what is usual for this machine, by subject; only where somebody agreed to it, and enough jobs have taught it"""
    sensors: tuple[Sensed, ...] = ()
    """the machine's own sensors"""
    presence: Presence | None = None
    """who is there; None where no hours are set, so nothing can be said"""
    finish_late: float | None = None
    """stamp: upper bound of the present job's finish; None without a job or an estimate"""
    may_outlast: bool = False
    """a person took it on that the present job runs on after the supervised hours"""
    spool: float | None = None
    """mm of filament on the spool; None where nobody keeps account of it"""
    needed: float | None = None
    """mm of filament that the present job still needs, by its plan; None without one"""
    damaged: int = 0
    """lines that held bytes which are no text, since the watch began"""
    lines_heard: int = 0
    """all lines of traffic, either way, since the watch began; only told once one of them was damaged"""
    answer_gap: float | None = None
    """s: the longest that the machine lately said nothing while it owed an answer, by the times of its lines, counted over a
    minute; None when it owed none"""
    flow_planned: float | None = None
    """mm/s of filament that the plan asks for just now, over the last minute; None without a plan"""
    host_ends: float | None = None
    """stamp at which the watching computer is to be shut down or restarted; None where nothing is planned"""
    host_ends_how: str = ""
    """'reboot', 'poweroff' …; '' where that is not told"""
    dwells: tuple[float, float] | None = None
    """when the last wait was sent whose own line tells how long it is, and when it will be over; None without one. What was
    sent before it is done first, so it may last longer"""

    @property
    def heat_on(self) -> bool | None:
        """A heater has a target above 0; None when no target is known."""
        targets = [heater.target for heater in (self.nozzle, self.bed) if heater.target is not None]
        return any(target > 0 for target in targets) if targets else None
