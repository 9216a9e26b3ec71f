"""How the controller sets a heater's power: a PID with a working range, or a plain on-off switch.

Both give a duty 0…1. Outside the working range the PID is full on or off, as hobby controllers do. Gains: tuned for the
bodies in `heat` by the lag rule of simple internal-model control; common practice, no source.
"""

from dataclasses import dataclass
from typing import NamedTuple


@dataclass(frozen=True, slots=True)
class Gains:
    """PID gains, duty per K and per s."""

    proportional: float = 0.065
    integral: float = 0.0035
    derivative: float = 0.10
    working: float = 10.0
    """K around the target in which the PID works"""
    start: float = 0.28
    """duty that the integral begins with on entering the working range"""


HOT_END = Gains()
BED = Gains(proportional=0.20, integral=0.003, derivative=0.0, start=0.15)


@dataclass(frozen=True, slots=True)
class Switch:
    """On below `target − gap`, off above `target + gap`."""

    gap: float = 1.0


class Memory(NamedTuple):
    """What the regulator keeps between steps."""

    integral: float | None = None
    before: float | None = None
    on: bool = False


def regulate(law: Gains | Switch, memory: Memory, target: float, reading: float, dt: float) -> tuple[Memory, float]:
    """The duty for the next step."""
    if target <= 0:
        return Memory(), 0.0
    if isinstance(law, Switch):
        on = reading < target - law.gap or (memory.on and reading <= target + law.gap)
        return Memory(on=on), 1.0 if on else 0.0
    error = target - reading
    if error > law.working:
        return Memory(before=reading), 1.0
    if error < -law.working:
        return Memory(before=reading), 0.0
    integral = law.start if memory.integral is None else memory.integral
    before = reading if memory.before is None else memory.before
    duty = law.proportional * error + integral - law.derivative * (reading - before) / dt
    if 0.0 < duty < 1.0 or (duty <= 0.0) != (error < 0):  # no winding up against a stop
        integral = min(1.0, max(0.0, integral + law.integral * error * dt))
    return Memory(integral, before + 0.5 * (reading - before)), min(1.0, max(0.0, duty))
