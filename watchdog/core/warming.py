"""How fast a nozzle warms up, from any reports that hold its reading. The target may be told late, after the climb.

Timed is always the same stretch, from `FAR` to `NEAR` below the target, where the heater runs at full power: so a start from a
warm nozzle and one from a cold one give the same rate, and the lag of the first seconds is left out.
"""

from itertools import pairwise
from typing import Final, NamedTuple

from watchdog.core.snapshot import Heater

FAR: Final = 50.0
"""°C below the target where the stretch begins; our choice"""
NEAR: Final = 10.0
"""°C below it where it ends: nearer to the target the control eases off; our choice"""
_STEP: Final = 5.0  # °C from one kept point to the next
_APART: Final = 30.0  # s between two of them at the most: a reading that is missing hides what happened; our choice
_JUMP: Final = 40.0  # °C between two readings: a damaged line, not heat
_LONGEST: Final = 900.0  # s: a climb that takes longer was interrupted; our choice
_KEPT: Final = 80  # points: 400 °C


class Point(NamedTuple):
    """One reading of a climb."""

    at: float
    celsius: float


Climb = tuple[Point, ...]
"""A climb as far as it has been seen."""


def followed(climb: Climb, nozzle: Heater) -> tuple[Climb, float | None]:
    """The climb after this look, and its rate (°C/s) when the stretch has just become known."""
    if nozzle.now is None or nozzle.at is None:
        return climb, None
    new = Point(nozzle.at, nozzle.now)
    climb = _with(climb, new)
    if not nozzle.target or len(climb) < 2 or new.celsius < nozzle.target - NEAR:
        return climb, None
    rate = _rate((*climb, new), nozzle.target)
    return (climb if rate is None else (new,)), rate


def _with(climb: Climb, new: Point) -> Climb:
    if not climb:
        return (new,)
    step = new.celsius - climb[-1].celsius
    if step <= -_STEP or step >= _JUMP:
        return (new,)
    if step < _STEP:
        return climb
    return (new,) if new.at - climb[0].at > _LONGEST else (*climb, new)[-_KEPT:]


def _rate(points: Climb, target: float) -> float | None:
    began, ended = _when(points, target - FAR), _when(points, target - NEAR)
    if began is None or ended is None or ended <= began:
        return None
    return (FAR - NEAR) / (ended - began)


def _when(points: Climb, celsius: float) -> float | None:
    """When the climb passed `celsius`; None where that was not seen."""
    for before, after in pairwise(points):
        if before.celsius <= celsius <= after.celsius and after.at - before.at <= _APART:
            rise = after.celsius - before.celsius
            return before.at if rise == 0 else before.at + (after.at - before.at) * (celsius - before.celsius) / rise
    return None
