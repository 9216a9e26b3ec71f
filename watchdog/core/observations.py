"""What one line of traffic can mean: typed, small, immutable.

The dialect turns text into these; the machine state is built from these alone. A line may mean several things at once
(an acknowledgement that carries temperatures), so a reader returns a tuple. Missing is None, never 0.
"""

from enum import StrEnum
from typing import NamedTuple

# ---------------------------------------------------------------- said by the machine


class Reading(NamedTuple):
    """One sensor in a temperature report."""

    now: float | None
    """°C; None when the machine printed no number or one that is not finite (nan, inf)."""
    target: float | None
    """°C; 0 = off; None when the line does not tell the target, which is not the same as 0."""
    power: int | None = None
    """heater output as printed; full scale differs by controller (127 or 255), so only zero, non-zero and the highest
    seen mean anything"""


class Temperatures(NamedTuple):
    """A temperature report, asked for or not."""

    nozzle: Reading | None
    """the active (or only) hot end"""
    bed: Reading | None
    others: tuple[tuple[str, Reading], ...] = ()
    """every further field by its letter: T1, C chamber, P probe, M board, A ambient …"""
    waiting: bool = False
    """the machine printed it while it waits for heat (a `W:` field, or the shape it uses only then)"""
    settling: float | None = None
    """s of settling left; None when not told"""
    paused_target: float | None = None
    """°C that a paused hot end will resume to (families that print a negative target); the target itself is then 0"""
    sensor_flag: int | None = None
    """the machine's own defect number for the hot end, where it prints one"""
    bed_flag: int | None = None
    """the same for the bed"""


class CardProgress(NamedTuple):
    """Where the card reader is. Printed for a file that is open: running, held or not started alike."""

    byte: int
    size: int
    held: bool = False
    """the machine said in the same words that the job is held"""


class CardIdle(NamedTuple):
    """The machine says that it is not executing a file from its card."""


class CardHeld(NamedTuple):
    """The machine says that its card job is held, without a position."""


class FileOpened(NamedTuple):
    """A file was opened or chosen on the card. Not started yet."""

    name: str | None
    size: int | None
    """bytes"""


class FileNamed(NamedTuple):
    """The machine tells which file is open."""

    short: str | None
    """8.3 name; None when it says that no file is open"""
    long: str | None


class JobDone(NamedTuple):
    """The machine says that the file has been executed to its end."""


class JobStopped(NamedTuple):
    """The machine says that the job was ended early by somebody."""


class JobElapsed(NamedTuple):
    """The machine's own job timer."""

    seconds: float


class JobProgress(NamedTuple):
    """Progress as the job file claims it (M73), reported by the machine."""

    percent: float | None
    left: float | None
    """s left by the file's own belief; None when not told"""


class Busy(NamedTuple):
    """The machine is alive but does not take commands now."""

    reason: str
    """'processing', 'heating', 'person' (waits for somebody), 'input' (waits for an answer), 'door', or 'other'"""


class Idle(NamedTuple):
    """The receiver says that its buffer is empty (`wait`). Says nothing about a card job."""


class Acknowledged(NamedTuple):
    """`ok`: a command was taken. Never means that it is finished."""

    line: int | None = None


class Started(NamedTuple):
    """The start-up banner: the controller has just been reset. Any job is lost, heaters are off."""


class ResetCause(NamedTuple):
    """Why it was reset, as the banner says."""

    cause: str
    """'power-up', 'external', 'brown-out', 'watchdog' or 'software'"""


class Resend(NamedTuple):
    """The machine asks for a line again."""

    line: int


class LineFault(NamedTuple):
    """A streamed line was refused: wrong number or wrong checksum."""

    text: str


class FaultKind(StrEnum):
    """What the machine says is wrong."""

    RUNAWAY = "runaway"
    HEATING_FAILED = "heating-failed"
    HEAT_MODEL = "heat-model"
    SENSOR_LOW = "sensor-low"
    SENSOR_HIGH = "sensor-high"
    SENSOR = "sensor"
    HALT = "halt"
    """no more commands are taken: killed, emergency stop"""
    STOPPED = "stopped"
    """moves are refused and heaters are off, queries are still answered"""
    HOMING = "homing"
    PROBING = "probing"
    COLD_EXTRUSION = "cold-extrusion"
    CARD_READ = "card-read"
    CARD_GONE = "card-gone"
    CARD_OPEN = "card-open"
    FILAMENT_OUT = "filament-out"
    FILAMENT_JAM = "filament-jam"
    FAN = "fan"
    DRIVER = "driver"
    SUPPLY = "supply"
    CONTROLLER = "controller"
    """its own watchdog, or a corrupt set-up store"""
    LOCKED = "locked"
    OTHER = "other"


class Fault(NamedTuple):
    """The machine reports a fault in words."""

    kind: FaultKind
    text: str
    heater: str | None = None
    """'nozzle', 'bed', 'chamber', or None when not told"""
    halted: bool = False
    """the machine's family takes no further commands after this message"""


class Action(NamedTuple):
    """A word to the host (`//action:…`). Only listened to, never answered."""

    word: str
    argument: str


class Waiting(NamedTuple):
    """The machine asks somebody to do something (load filament, press the button)."""

    text: str


class Firmware(NamedTuple):
    """The controller's own description (answer to M115)."""

    text: str


class Capability(NamedTuple):
    """One capability of the controller."""

    name: str
    present: bool


class Position(NamedTuple):
    """Where the axes are (mm). On most families the planned end, not the moving position."""

    x: float | None
    y: float | None
    z: float | None
    e: float | None


class Setting(NamedTuple):
    """A stored setting that the controller lists: speeds, accelerations, junction limits."""

    code: str
    """'M92', 'M201', 'M203', 'M204', 'M205' …"""
    values: tuple[tuple[str, float], ...]


class SpeedOverride(NamedTuple):
    """Speed in % of what the job asks for."""

    percent: float


class FlowOverride(NamedTuple):
    """Flow in % of what the job asks for."""

    percent: float


class UnknownCommand(NamedTuple):
    """The machine did not know a command: not supported, stop asking."""

    command: str


class IdleHeatCut(NamedTuple):
    """The machine lowered its own targets because nothing happened for long."""


class CardPresent(NamedTuple):
    """The card was mounted (True) or let go (False)."""

    present: bool


class Listing(NamedTuple):
    """A line of a list that somebody asked for: a file of the card, a counter, a statistic."""

    text: str


class CardWriting(NamedTuple):
    """A file is being written to the card (True), or that has ended (False). Nothing may be sent meanwhile."""

    on: bool


class Remark(NamedTuple):
    """Understood as information that changes nothing (echo, comment to the host)."""

    text: str


class Unread(NamedTuple):
    """Not understood. Counted and kept."""

    text: str
    damaged: bool = False
    """holds bytes that are no text: noise, a wrong speed, a damaged file"""


# ---------------------------------------------------------------- sent to the machine


class Command(NamedTuple):
    """One line that somebody sent to the machine."""

    code: str
    """'G1', 'M104', 'T0'; subcodes keep their dot ('M114.1'). '' when the line holds no command."""
    words: tuple[tuple[str, float | None], ...]
    """the line's other words in their order, letter in upper case; None for a letter without a number"""
    text: str
    """what stands behind the code, unread: the file name of M23, the text of M117"""
    number: int | None = None
    """line number"""
    checksum_good: bool | None = None
    """None without a checksum"""


# ---------------------------------------------------------------- remarks about the link


class LinkUp(NamedTuple):
    """The port, log or connection has been opened."""


class LinkDown(NamedTuple):
    """The port, log or connection is gone."""

    why: str = ""


class WatchStarted(NamedTuple):
    """The recorder began."""


class WatchStopped(NamedTuple):
    """The recorder ended in good order."""


class HostResumed(NamedTuple):
    """The computer that follows the machine had slept or hung."""

    seconds: float


Observation = (
    Temperatures
    | CardProgress
    | CardIdle
    | CardHeld
    | FileOpened
    | FileNamed
    | JobDone
    | JobStopped
    | JobElapsed
    | JobProgress
    | Busy
    | Idle
    | Acknowledged
    | Started
    | ResetCause
    | Resend
    | LineFault
    | Fault
    | Action
    | Waiting
    | Firmware
    | Capability
    | Position
    | Setting
    | SpeedOverride
    | FlowOverride
    | UnknownCommand
    | IdleHeatCut
    | CardPresent
    | Listing
    | CardWriting
    | Remark
    | Unread
    | Command
    | LinkUp
    | LinkDown
    | WatchStarted
    | WatchStopped
    | HostResumed
)
