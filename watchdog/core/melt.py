"""What a heater's power says about the plastic that it melts.

    P = (G + ρ c A v)(T - Ta)        G W/K leave the block, ρ c A = 1.24e-3 g/mm³ · 1.8 J/(g K) · 2.405 mm² = 5.37e-3 J/(mm K)

PLA of 1.75 mm fed at v = 2 mm/s from 25 to 200 °C takes 1.88 W: 4.7 % of a 40 W heater. With G = 0.12 W/K (a small block with
its part fan on; common practice, no source) melting adds 4.5 % to the holding power for each mm/s. Density and specific heat:
resin makers' data sheets.

A printed power wavers with the printed reading, since the control answers to both: so power is taken where the reading is at
the target, by a least-squares line through the readings.
"""

from collections.abc import Sequence
from statistics import median
from typing import Final, NamedTuple

from watchdog.core.snapshot import Heater
from watchdog.statistics.robust import sigma
from watchdog.statistics.slope import theil_sen

ROOM: Final = 22.0
"""°C: power is told for each K above it; common practice, no source"""
MELTS: Final = 0.045
"""share of the power that holds a nozzle without flow, for each mm/s of 1.75 mm filament; see above"""
LEAST_SHARE: Final = 0.03
MOST_SHARE: Final = 0.06
"""bounds of what a machine may teach of it: G from 0.09 to 0.18 W/K; common practice, no source"""
LEAST_SPREAD: Final = 0.005
"""share of the power: jobs never agree better than that, since rooms differ by a degree or two"""
CLOSE: Final = 1.5
"""°C from the target within which a reading counts: further off the heat is not held but changes; our choice"""
FLOWS: Final = 0.3
"""mm/s of filament below which nothing is said: the power that it takes is lost in the noise; our choice"""
SETTLE: Final = 150.0
"""s from the first plastic until the power has settled and the part fan runs, usually from the second layer on; common
practice, no source"""


class Held(NamedTuple):
    """Readings of a held heat, as sums over them."""

    readings: int = 0
    power: float = 0.0
    """as printed"""
    off: float = 0.0
    """°C above the target"""
    off_off: float = 0.0
    power_off: float = 0.0
    read_at: float | None = None

    @property
    def spread(self) -> float:
        """Sum of squares of the readings about their mean."""
        return self.off_off - self.off * self.off / self.readings if self.readings else 0.0

    @property
    def together(self) -> float:
        """The same of power and reading together."""
        return self.power_off - self.power * self.off / self.readings if self.readings else 0.0


NONE: Final = Held()


def read(held: Held, nozzle: Heater) -> Held:
    """With one more reading, if there is a new one near the target and the machine tells its power."""
    now, target, power = nozzle.now, nozzle.target, nozzle.power
    if now is None or not target or power is None or nozzle.at == held.read_at or abs(now - target) > CLOSE:
        return held
    off = now - target
    return Held(
        held.readings + 1,
        held.power + power,
        held.off + off,
        held.off_off + off * off,
        held.power_off + power * off,
        nozzle.at,
    )


def at_target(held: Held, spread: float, together: float, target: float) -> float:
    """Power for each K above the room, with the reading at the target.

    `spread` and `together` as in `Held`, summed over all blocks so far: a single one knows the slope badly. `held` must hold
    readings, and `target` lie above the room.
    """
    slope = together / spread if spread > 0 else 0.0
    return (held.power - slope * held.off) / held.readings / (target - ROOM)


def due(level: float, flow: float, share: float, wanted: float) -> float:
    """The power that is due at the flow `wanted` (mm/s), where `level` is usual at `flow`."""
    return level + taken(level, flow, share) * (wanted - flow)


def taken(level: float, flow: float, share: float) -> float:
    """Power that each mm/s takes; `share` as `MELTS`."""
    return share * level / (1 + share * flow)


def relation(levels: Sequence[float], flows: Sequence[float]) -> tuple[float, float, float]:
    """Of several jobs, each with its power and its flow: the usual power at the median flow, its spread, and the share that
    melts. The share is the Theil-Sen line's where the flows differ enough to tell, within bounds of physics."""
    flow = median(flows)
    share = MELTS
    if max(flows) - min(flows) >= FLOWS:
        line = theil_sen(flows, levels)
        share = min(max(line.slope / line.intercept, LEAST_SHARE), MOST_SHARE) if line.intercept > 0 else MELTS
    level = median(levels)
    brought = [due(power, own, share, flow) for power, own in zip(levels, flows, strict=True)]
    return median(brought), max(sigma(brought), LEAST_SPREAD * level), share
