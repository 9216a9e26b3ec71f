"""What the controller is at, and where an order came from."""

from enum import StrEnum
from typing import NamedTuple

from watchdog.simulator.gcode import Order


class State(StrEnum):
    """What the controller is at."""

    OFF = "off"
    BOOTING = "booting"
    RUNNING = "running"
    HALTING = "halting"
    """the last words of a halt are still to come"""
    HALTED = "halted"
    """silent until a reset"""
    LOCKED = "locked"
    """every line gets the same refusal until M999"""


class Source(StrEnum):
    """Where an order came from."""

    WIRE = "wire"
    CARD = "card"
    PANEL = "panel"


class Pending(NamedTuple):
    """An order in a slot."""

    order: Order
    source: Source
