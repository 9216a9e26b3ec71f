"""What one commit takes, whole or not at all."""

from typing import NamedTuple

from watchdog.core.effects import Effect
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.record.surroundings import Excerpt


class JobSummary(NamedTuple):
    """What a job came to, told once it has ended. None wherever it cannot be told."""

    at: Moment
    """its end"""
    number: int
    origin: str
    started: float
    """stamp"""
    ending: str
    """as it showed on the wire: 'completed', 'abandoned', 'halted', or 'lost' for lost contact"""
    seconds: float | None
    """from start to end, holds included"""
    active: float | None = None
    """s in which it was executed: neither held nor out of sight"""
    held: float | None = None
    """s"""
    heating: float | None = None
    """s in which it heated up"""
    file: str | None = None
    """its name; the record keeps a hash in its place unless it was opened to keep names"""
    size: int | None = None
    """bytes"""
    digest: str | None = None
    """hash of the file's content"""
    planned: float | None = None
    """s for the whole job, holds not included, as it was expected when it began"""
    planned_low: float | None = None
    """bounds of the prediction interval, s"""
    planned_high: float | None = None
    planned_by: str | None = None
    """'plan', 'history', 'operator', 'machine' …"""
    material: str | None = None
    filament_mm: float | None = None
    filament_g: float | None = None


class Batch(NamedTuple):
    """One step of one machine, for the record."""

    machine: str
    at: Moment
    effects: tuple[Effect, ...] = ()
    orders: tuple[Order, ...] = ()
    """each message with each person who is to get it, and when: they become parcels in the outbox. A `Tell` among the
    effects that has no order here is recorded as told to nobody"""
    world: str | None = None
    """the machine's world after this step, frozen (JSON); None leaves the stored one"""
    surroundings: Excerpt = Excerpt()
    """lines and readings are kept where an incident is near, and let go where none is; minutes are always kept"""
    summaries: tuple[JobSummary, ...] = ()
    """of the jobs that have ended by this step"""


class Committed(NamedTuple):
    """What a commit came to."""

    incident: int | None
    """the incident that goes on collecting lines and readings of this machine; None when none does"""
    parcels: int
    """messages that were put into the outbox by this commit"""
