"""Sensors beside the machine: what is remembered of each, and what it is worth now.

    message ──payload.read_payload──▶ Measured ──measured──▶ Reading ──sensed──▶ Sensed, in the snapshot

A value counts for as long as the sensor may be quiet, and no longer: a stale sensor knows nothing, it is never normal.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from watchdog.core.events import Measured
from watchdog.core.snapshot import Sensed, SensorKind, Snapshot

HEATS = 40.0
"""W that tell a heater from a machine that merely stands there: display, board and fans take 5 to 20 W, the weakest nozzle
heaters 30 to 40 W. Common practice, no source"""
BOUNCES = 2.0
"""s that a contact must have stood before its next change is noted: one that bounces would fill the log; project's choice"""
_SMOKE = 0.5  # of a sensor that only tells yes (1) or no (0)

ON_OR_OFF = {
    SensorKind.DOOR: ("closed", "open"),
    SensorKind.FILAMENT_PRESENT: ("gone", "there"),
}
"""What 0 and 1 mean, where a change is worth a line in the log by itself"""


@dataclass(frozen=True, slots=True)
class SensorSpec:
    """One sensor as it was set up."""

    name: str
    kind: SensorKind
    pointer: str = ""
    """JSON pointer (RFC 6901) to the value in its messages; '' = the whole message"""
    scale: float = 1.0
    """by which its numbers are multiplied to be in the unit of its kind (mm a pulse, for instance)"""
    stale_after: float = 300.0
    """s that it may be quiet"""
    low: float | None = None
    high: float | None = None
    yes: str | None = None
    """its own word for 1, where it is not one of the usual ones or means the opposite"""
    no: str | None = None
    """its own word for 0"""
    unit: str = ""
    """in what its values are shown; '' = they have none"""

    @property
    def limits(self) -> tuple[float | None, float | None]:
        """(low, high) to be kept. A smoke sensor without limits only tells yes or no, and yes is beyond."""
        if self.kind is SensorKind.SMOKE and self.low is None and self.high is None:
            return None, _SMOKE
        return self.low, self.high


class Reading(NamedTuple):
    """What one sensor last said."""

    sensor: str
    value: float | None
    """in the unit of its kind; None: it said that it cannot tell, or sent what is no value"""
    at: float
    """elapsed of that message"""
    since: float
    """elapsed since when it has said the same; mains power: since when it has been on the same side of HEATS"""


def measured(
    specs: Sequence[SensorSpec], readings: tuple[Reading, ...], event: Measured
) -> tuple[tuple[Reading, ...], tuple[str, str] | None]:
    """The readings after one more, and (from, to) where a contact's change is to be noted. Unknown sensors change nothing."""
    spec = next((spec for spec in specs if spec.name == event.sensor), None)
    if spec is None:
        return readings, None
    at = event.at.elapsed
    before = next((reading for reading in readings if reading.sensor == event.sensor), None)
    same = before is not None and _same(spec.kind, before.value, event.value)
    reading = Reading(event.sensor, event.value, at, before.since if before is not None and same else at)
    others = [other for other in readings if other.sensor != event.sensor]
    changed = None
    words = ON_OR_OFF.get(spec.kind)
    was, value = None if before is None else before.value, event.value
    stood = before is not None and at - before.since >= BOUNCES
    if words is not None and stood and not same and was is not None and value is not None:
        changed = words[was >= 0.5], words[value >= 0.5]
    return tuple(sorted((*others, reading))), changed


def sensed(
    specs: Sequence[SensorSpec], readings: Sequence[Reading], now: float, sighted_since: float
) -> tuple[Sensed, ...]:
    """Each sensor as it stands at `now`. After a blind time it may be quiet for its time anew before it counts as stale."""
    last = {reading.sensor: reading for reading in readings}
    found = []
    for spec in specs:
        low, high = spec.limits
        reading = last.get(spec.name)
        if reading is None:
            quiet = now - sighted_since > spec.stale_after
            found.append(Sensed(spec.name, spec.kind, None, None, quiet, low, high, unit=spec.unit))
        elif now - reading.at > spec.stale_after:
            quiet = now - max(reading.at, sighted_since) > spec.stale_after
            found.append(Sensed(spec.name, spec.kind, None, None, quiet, low, high, unit=spec.unit))
        else:
            at = None if reading.value is None else reading.at
            found.append(Sensed(spec.name, spec.kind, reading.value, at, False, low, high, reading.since, spec.unit))
    return tuple(found)


def stale_sentences(sensors: Sequence[Sensed]) -> tuple[str, ...]:
    """One sentence for each sensor that has gone quiet, for `watch-impaired`."""
    return tuple(
        f"sensor {one.name} ({one.kind.value}) has said nothing for too long. Look at the sensor, its power and the network."
        for one in sensors
        if one.stale
    )


def of_kind(seen: Snapshot, kind: SensorKind) -> tuple[Sensed, ...]:
    """The sensors of one kind beside this machine."""
    return tuple(one for one in seen.sensors if one.kind is kind)


def power_contradicts(seen: Snapshot, hold: float = 60.0) -> bool | None:
    """The machine draws a heater's power, and has for `hold` s, though every heater has been off by its target for as long.

    None: no meter tells, or no target is known. Heaters share their mains with motors and fans, so it counts only while no
    job is active: False in a job, and where the power is less than HEATS.
    """
    meters = [one for one in of_kind(seen, SensorKind.MAINS_POWER) if one.value is not None]
    if not meters or seen.heat_on is None or seen.active is None:
        return None
    if seen.heat_on or seen.active:
        return False
    off_since = max(heater.target_since or 0.0 for heater in (seen.nozzle, seen.bed))
    if seen.at - off_since < hold:
        return False
    return any(
        one.value is not None and one.value >= HEATS and one.since is not None and seen.at - one.since >= hold
        for one in meters
    )


def _same(kind: SensorKind, before: float | None, after: float | None) -> bool:
    if kind is SensorKind.MAINS_POWER and before is not None and after is not None:
        return (before >= HEATS) == (after >= HEATS)
    return before == after
