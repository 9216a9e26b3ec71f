"""What can happen to a world: traffic, time, and people."""

from typing import NamedTuple

from watchdog.core.moment import Moment
from watchdog.core.observations import Observation
from watchdog.core.traffic import Direction


class Line(NamedTuple):
    """One line of traffic with its meaning, as the dialect read it."""

    at: Moment
    direction: Direction
    text: str
    meaning: tuple[Observation, ...]


class Tick(NamedTuple):
    """A second has passed. Durations mature on ticks, also when the machine is silent."""

    at: Moment


class Resumed(NamedTuple):
    """The watch runs again after a time in which it saw nothing (restart, sleep)."""

    at: Moment
    blind: float
    """s without sight"""


class Acknowledge(NamedTuple):
    """A person took an alarm on."""

    at: Moment
    alarm: str
    by: str
    """role or account, never a secret"""
    how: str
    """'command', 'mqtt', 'link', 'mail', 'machine'"""


class Shelve(NamedTuple):
    """A person silences an alarm for a bounded time; it keeps being evaluated and logged."""

    at: Moment
    alarm: str
    seconds: float
    by: str
    reason: str = ""


class Unshelve(NamedTuple):
    """A person ends the shelving early."""

    at: Moment
    alarm: str
    by: str


class Expectation(NamedTuple):
    """Somebody or something says what the present job should take."""

    at: Moment
    seconds: float
    """s for the whole job, holds not included"""
    by: str
    """'operator', 'machine' or 'plan'"""


class Forget(NamedTuple):
    """A person wants everything forgotten that this machine's jobs have taught."""

    at: Moment
    by: str


class Impaired(NamedTuple):
    """What keeps the watch itself from its work; empty when nothing does."""

    at: Moment
    reasons: tuple[str, ...]


class Measured(NamedTuple):
    """A sensor beside the machine said something, or is known to have gone quiet."""

    at: Moment
    sensor: str
    """its name in the settings"""
    value: float | None
    """in the unit of its kind; None: it said that it cannot tell, or sent what is no value"""


class Allowed(NamedTuple):
    """A person takes it on that the present job runs on after the supervised hours."""

    at: Moment
    by: str
    stays: str
    """who stays with it or looks after it, by role"""
    how: str = "command"
    """by which way they said so"""


class SpoolSet(NamedTuple):
    """A person loaded a spool, weighed what is on it, or took it off."""

    at: Moment
    left: float | None
    """mm of filament on it; None: not known, or none is there, so no account is kept"""
    by: str


class HostEnds(NamedTuple):
    """The computer that watches, and may stream, is to be shut down or restarted; or that was called off."""

    at: Moment
    ends_at: float | None
    """stamp; None: nothing is planned, or no more"""
    how: str = ""
    """'reboot', 'poweroff', 'halt' … as the service manager names it; '' where it does not"""


Event = (
    Line
    | Tick
    | Resumed
    | Acknowledge
    | Shelve
    | Unshelve
    | Expectation
    | Forget
    | Impaired
    | Measured
    | Allowed
    | SpoolSet
    | HostEnds
)
