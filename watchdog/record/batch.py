"""What one commit takes, whole or not at all."""

from typing import NamedTuple

from watchdog.core.effects import Effect
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.record.surroundings import Excerpt


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


class Committed(NamedTuple):
    """What a commit came to."""

    incident: int | None
    """the incident that goes on collecting lines and readings of this machine; None when none does"""
    parcels: int
    """messages that were put into the outbox by this commit"""
