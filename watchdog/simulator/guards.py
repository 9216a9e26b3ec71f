"""The protection that a controller carries itself. It halts; a watch beside it must know when.

The limits of the common 8 and 32 bit code base in one build of early 2024, as read: hot end more than 4 °C below its target
for 40 s after having reached it, bed 2 °C for 180 s; a hot end that heats must gain 2 °C in each 40 s. The bed's heating
limit and the temperature bounds are this simulator's own choice.
"""

from dataclasses import dataclass
from typing import NamedTuple


@dataclass(frozen=True, slots=True)
class Bounds:
    """When one heater's guard trips."""

    droop: float = 4.0
    """°C below the target, once reached"""
    droop_for: float = 40.0
    """s"""
    gain: float = 2.0
    """°C that must be gained …"""
    gain_in: float = 40.0
    """… in each of these s while heating up"""
    least: float = 5.0
    """°C: below it the sensor counts as open while heat is asked for"""
    most: float = 275.0
    """°C: above it everything stops, asked for or not"""


HOT_END = Bounds()
BED = Bounds(droop=2.0, droop_for=180.0, gain_in=180.0, most=125.0)


class Watchful(NamedTuple):
    """What the guard keeps between looks."""

    target: float = 0.0
    reached: bool = False
    since: float = 0.0
    """when the present stretch (of heating, or of being too low) began"""
    begun_at: float = 0.0
    """°C at its beginning"""


def look(bounds: Bounds, memory: Watchful, target: float, reading: float, now: float) -> tuple[Watchful, str | None]:
    """Judge one reading. The verdict is 'too-hot', 'too-cold', 'runaway', 'heating-failed' or None."""
    if reading >= bounds.most:
        return memory, "too-hot"
    if target <= 0:
        return Watchful(), None
    if reading < bounds.least:
        return memory, "too-cold"
    if target != memory.target:
        return Watchful(target, reading >= target - 1, now, reading), None
    if not memory.reached:
        if reading >= target - 1:
            return Watchful(target, True, now, reading), None
        if reading >= memory.begun_at + bounds.gain:
            return memory._replace(since=now, begun_at=reading), None
        return memory, "heating-failed" if now - memory.since >= bounds.gain_in else None
    if reading >= target - bounds.droop:
        return memory._replace(since=now), None
    return memory, "runaway" if now - memory.since >= bounds.droop_for else None
