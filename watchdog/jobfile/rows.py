"""What the reading of a file hands on: displacements in columns, and what happens between them."""

from dataclasses import dataclass, field
from math import inf, pi
from typing import NamedTuple

from watchdog.jobfile.machine_limits import Axes, MachineLimits


class Wait(NamedTuple):
    """All motion ends before this, and the next move starts from rest."""

    kind: str
    """of `core.plan.Hold`; '' when the machine only comes to rest (M400)"""
    start: int
    """byte at which its line begins"""
    end: int
    """byte behind its line"""
    what: str
    seconds: float = 0.0
    """for a wait that the file or the machine's limits tell"""
    heater: str | None = None
    """for kind 'heat': which one is waited for"""
    target: float | None = None
    cools: bool = False
    """waits for cooling too"""


class HeatSet(NamedTuple):
    """A heater gets another target; nothing waits."""

    start: int
    end: int
    heater: str
    target: float


class Force(NamedTuple):
    """The limits that are in force for some moves."""

    speed: Axes
    acceleration: Axes
    printing: float
    travelling: float
    retracting: float
    deviation: float | None
    jerk: Axes
    feeding: float
    """mm/s of filament while printing"""
    radius: float = inf
    """of the arc that the moves are pieces of"""


def force(limits: MachineLimits) -> Force:
    """The part of a machine's limits that bears on a single move."""
    area = pi * limits.filament_diameter**2 / 4
    feeding = limits.speed[3] if limits.volumetric is None else min(limits.speed[3], limits.volumetric / area)
    return Force(
        limits.speed,
        limits.acceleration,
        limits.printing,
        limits.travelling,
        limits.retracting,
        limits.deviation,
        limits.jerk,
        feeding,
    )


@dataclass(slots=True)
class Rows:
    """Moves in columns, of one length each. mm, mm/s, bytes."""

    x: list[float] = field(default_factory=list)
    y: list[float] = field(default_factory=list)
    z: list[float] = field(default_factory=list)
    e: list[float] = field(default_factory=list)
    v: list[float] = field(default_factory=list)
    """speed asked for"""
    start: list[int] = field(default_factory=list)
    """byte at which the line begins"""
    end: list[int] = field(default_factory=list)
    """byte behind the line"""
    high: list[float] = field(default_factory=list)
    """z at the end of the move"""
    events: list[tuple[int, Wait | HeatSet]] = field(default_factory=list)
    """each before the move of that index"""
    forces: list[tuple[int, Force]] = field(default_factory=list)
    """from the move of that index on; the first one at 0"""

    def clear(self, now: Force) -> None:
        """Begin anew under the limits `now`."""
        for column in (self.x, self.y, self.z, self.e, self.v, self.high):
            column.clear()
        self.start.clear()
        self.end.clear()
        self.events.clear()
        self.forces[:] = [(0, now)]

    def under(self, now: Force) -> None:
        """Moves from here on are under `now`."""
        self.forces.append((len(self.end), now))
