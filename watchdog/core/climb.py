"""A heater that climbs away from the target that it was at: told from the overshoot of good control.

    begins    the reading comes from near the target to `ABOVE` it, in a step that a heater can make
    goes on   no reading, nor the one before it, is `SLACK` below the top

A climb runs away once two readings in a row are `far` above the target, or once it has gone on for `coast` with the power told
as 0 all the while, gained `gain`, and still rises. What a damaged line says is never in two readings.
"""

from dataclasses import dataclass, replace
from typing import Final, NamedTuple

from watchdog.core.sight import leapt
from watchdog.core.snapshot import Heater


class Rules(NamedTuple):
    """What sets a climb apart from an overshoot; °C and s."""

    far: float
    coast: float
    gain: float
    missing: float
    """s: over a longer gap between readings nothing is followed"""


@dataclass(frozen=True, slots=True)
class Climb:
    """A climb that goes on."""

    top: float  # °C: the highest that two readings in a row have reached
    off_at: float | None = None  # s, elapsed: the first reading since which the power is told as 0
    off_from: float = 0.0  # °C of that reading


ABOVE: Final = 3.0
"""°C above the target, where a climb begins: more than noise and the swing of good control; project's choice"""
NEAR: Final = 8.0
"""°C above the target, where it must have been the reading before: not every reading is looked at where two come in a second"""
SLACK: Final = 1.0
"""°C below its top, where it ends: more than noise"""


def follow(rules: Rules, climb: Climb | None, heater: Heater) -> tuple[Climb | None, bool]:
    """The climb after this reading, and whether it runs away. The same reading twice changes nothing."""
    now, before, target, at = heater.now, heater.previous, heater.target, heater.at
    if now is None or before is None or not target or at is None or _broken_off(rules, heater, at):
        return None, False
    if climb is None:
        begins = before < target + NEAR and now >= target + ABOVE and now > before and not leapt(heater)
        return (Climb(before, *_switched_off(None, heater)) if begins else None), False
    if max(now, before) < climb.top - SLACK or max(now, before) < target + ABOVE:
        return None, False
    lower = min(now, before)
    off_at, off_from = _switched_off(climb, heater)
    rises = now > before and lower >= climb.top
    if lower > climb.top or off_at != climb.off_at:
        climb = replace(climb, top=max(lower, climb.top), off_at=off_at, off_from=off_from)
    coasts = off_at is not None and at - off_at >= rules.coast and lower >= off_from + rules.gain
    return climb, (coasts and rises) or lower >= target + rules.far


def _broken_off(rules: Rules, heater: Heater, at: float) -> bool:
    """The two readings do not belong together: another target, or too long between them."""
    if heater.previous_at is None or at - heater.previous_at > rules.missing:
        return True
    return heater.target_since is not None and heater.previous_at < heater.target_since


def _switched_off(climb: Climb | None, heater: Heater) -> tuple[float | None, float]:
    if heater.power != 0 or heater.now is None:
        return None, 0.0
    if climb is not None and climb.off_at is not None:
        return climb.off_at, climb.off_from
    return heater.at, heater.now
