"""What a command can wait for."""

from enum import StrEnum
from math import inf
from typing import NamedTuple


class For(StrEnum):
    """What ends the wait."""

    MOTION = "motion"
    """every queued move has been made"""
    TIME = "time"
    HEAT = "heat"
    PERSON = "person"


class Wait(NamedTuple):
    """A command stands until this is over. Handlers yield it."""

    what: For
    until: float = inf
    """for TIME: when it is over; for PERSON: when it gives up"""
    heater: str = ""
    cooling_too: bool = False
    """for HEAT: wait for the heater to come down to its target as well"""


MOTION = Wait(For.MOTION)
PERSON = Wait(For.PERSON)
