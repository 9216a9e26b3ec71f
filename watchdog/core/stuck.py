"""A heater that goes on heating though it is off by its target: the mains meter shows its power, and the heat does not fall.

    begins    the meter has contradicted the controller for its time (`sensors.power_contradicts`), and the heater is warm
    goes on   no reading is `fall` below the one that it began with, and none was missing
    stuck     once that has lasted for `window`

Neither alone is enough: a lamp or a pump on the same meter draws power too, and a thick bed cools slowly.
"""

from typing import NamedTuple

from watchdog.core.sensors import of_kind, power_contradicts
from watchdog.core.sight import broken_off
from watchdog.core.snapshot import Heater, SensorKind, Snapshot


class Rules(NamedTuple):
    """What tells a heater that is held hot from one that cools; °C and s."""

    floor: float
    """below it the room, or a warm heater beside it, explains what is read"""
    fall: float
    window: float
    missing: float
    """s: over a longer gap between readings nothing is followed"""


class Held(NamedTuple):
    """Heat that has not fallen since the power speaks against the target."""

    heat: float  # °C of the reading that it began with
    since: float  # s, elapsed


def contradicted(seen: Snapshot) -> bool:
    """The meter shows a heater's power, and every heater that is read is known to be off."""
    if not seen.sensors or any(one.now is not None and one.target is None for one in (seen.nozzle, seen.bed)):
        return False
    return power_contradicts(seen) is True


def follow(rules: Rules, held: Held | None, heater: Heater, seen: Snapshot) -> tuple[Held | None, bool]:
    """What is held after this reading, and whether the heater is stuck. To be asked while it is `contradicted`."""
    now, before, at = heater.now, heater.previous, heater.at
    if now is None or before is None or at is None or heater.target != 0 or min(now, before) < rules.floor:
        return None, False
    if held is None or now <= held.heat - rules.fall or broken_off(heater, held.since, rules.missing, seen):
        return Held(now, at), False
    return held, at - held.since >= rules.window


def watts(seen: Snapshot) -> float | None:
    """What the mains meters of this machine show together; None where none tells."""
    told = [one.value for one in of_kind(seen, SensorKind.MAINS_POWER) if one.value is not None]
    return sum(told) if told else None
