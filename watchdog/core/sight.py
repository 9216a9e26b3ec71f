"""What a snapshot shows, asked the same way by several detectors, which may not ask each other."""

from collections.abc import Container

from watchdog.core.finding import Finding
from watchdog.core.observations import Fault, FaultKind
from watchdog.core.snapshot import Heater, Link, Origin, Snapshot, Source

HEATER_FAULTS = frozenset(
    {
        FaultKind.RUNAWAY,
        FaultKind.HEATING_FAILED,
        FaultKind.HEAT_MODEL,
        FaultKind.SENSOR_LOW,
        FaultKind.SENSOR_HIGH,
        FaultKind.SENSOR,
    }
)
"""what a controller reports of a heater or its sensor; each has an alarm of its own, also where it ends in a halt"""
HALTS = frozenset({FaultKind.HALT, FaultKind.STOPPED, FaultKind.LOCKED})
_TOO_HOT = (FaultKind.SENSOR_HIGH, FaultKind.SENSOR)  # some call a heater above its limit a sensor that is defect
_LAST_WORDS = 30.0  # s from the cause to the halt: parking and beeps take seconds; common practice, no source
_RISES = 13.0  # °C/s: several times what a heater of this kind can make (3 °C/s; 40 W on a light block 5)
_FALLS = 6.0  # °C/s: 0.3 W/K with a fan on the block, 180 K above the room, on 10 J/K make 5.4
_BETWEEN = 3.0  # s: readings that come closer are judged as if they were this far apart, so that noise is no leap
_APART = 15.0  # s: over a longer gap much may have happened
_HOT = 100.0  # °C: below it no upper limit is near, whatever the reading has done
_FIRST_ORDERS = 10.0  # s from a job's start within which its first orders are read; common practice, no source


def blind(seen: Snapshot, after: float = 60.0) -> bool:
    """The machine has not spoken for `after` s (longer where its rhythm is slower), never spoke, or its link is gone.

    What it does not say now proves nothing then.
    """
    if seen.link is Link.UNAVAILABLE or seen.heard is None:
        return True
    quiet = seen.at - seen.heard
    return quiet > after and quiet > 3 * (seen.rhythm or 0.0)


def unanswered(seen: Snapshot, limit: float, queries: int, blocking: float) -> bool | None:
    """The link is there and the machine says nothing though it should; None when nobody can tell whether it should.

    `limit` and `blocking` in s: how long it may be quiet, also while a command runs that rightly keeps it quiet: one that was
    sent, or one of a job that has just been chosen or begun, whose own orders some controllers tell nobody of. A serial
    source knows by its own queries; one that only listens knows by others' queries or by the rhythm so far.
    """
    since = max(seen.sighted_since, seen.link_since)
    if seen.heard is not None and seen.heard > since:
        since = seen.heard
    quiet = seen.at - since
    if seen.dwells is not None and since - seen.dwells[0] < limit and seen.at - seen.dwells[1] < limit:
        return False  # it has said nothing since a wait began that takes so long by its own line
    if quiet < limit or (quiet < blocking and (seen.blocking_since is not None or _begins(seen))):
        return False
    if seen.owed_since is not None and seen.at - seen.owed_since >= limit:
        return True
    if seen.source is Source.SERIAL:
        return seen.unanswered >= queries
    return None if seen.rhythm is None else quiet >= 3 * seen.rhythm


def _begins(seen: Snapshot) -> bool:
    """The last word came when a card job was chosen and not yet under way, or at its very beginning: its own first orders
    (heat, homing) may block."""
    if seen.chosen_at is not None:
        return True
    job = seen.job
    if job is None or job.ended is not None or job.building_since is not None or job.origin is not Origin.CARD:
        return False
    return seen.heard is not None and seen.heard - job.started <= _FIRST_ORDERS


def last_fault(seen: Snapshot, kinds: Container[FaultKind]) -> tuple[float, Fault] | None:
    """The newest fault of one of these kinds that the machine reported and that still stands."""
    for at, fault in reversed(seen.faults):
        if fault.kind in kinds:
            return at, fault
    return None


def reported(seen: Snapshot, kinds: Container[FaultKind]) -> Finding | None:
    """What the machine itself last said of a heater, as a finding; None when it said nothing of `kinds`."""
    last = last_fault(seen, kinds)
    if last is None:
        return None
    return Finding(True, {"kind": last[1].kind.value, "heater": last[1].heater, "text": last[1].text})


def broken_off(heater: Heater, began: float, longest: float, seen: Snapshot) -> bool:
    """What was followed since `began` cannot be followed on: the target is another, or readings were missing meanwhile."""
    return (
        began < seen.sighted_since
        or (heater.target_since is not None and began < heater.target_since)
        or (heater.at is not None and heater.previous_at is not None and heater.at - heater.previous_at > longest)
    )


def leapt(heater: Heater, rises: float = _RISES, falls: float = _FALLS) -> bool:
    """From the reading before to this one the heat changed faster, up or down, than any block can (`rises`, `falls`: °C/s).

    A sensor fault, or a damaged line: the next reading tells which. False where the target changed between the two (it may
    be another hot end that is told now) or where they are too far apart.
    """
    now, before, at, before_at = heater.now, heater.previous, heater.at, heater.previous_at
    if now is None or before is None or at is None or before_at is None or at - before_at > _APART:
        return False
    if heater.target_since is not None and before_at < heater.target_since <= at:
        return False
    between = max(at - before_at, _BETWEEN)
    return now - before >= rises * between or before - now >= falls * between


def ran_up(seen: Snapshot, verdict: bool | None) -> bool | None:
    """The controller reports its own upper limit of a heater that had climbed to it: a runaway, and no broken sensor.

    None while it reports no such limit. `verdict`: the answer to the snapshot before, which stands as long as the report
    does, since the readings fall afterwards.
    """
    told = last_fault(seen, _TOO_HOT)
    if told is None:
        return None
    if verdict is not None:
        return verdict
    heater = seen.bed if told[1].heater == "bed" else seen.nozzle
    now, target, before = heater.now, heater.target, heater.previous
    if now is None or target is None or now < max(_HOT, target + 5) or leapt(heater):
        return False
    return before is None or now > before - 0.5  # a heater that cools has not come to its limit by itself


def halt_apart(seen: Snapshot) -> tuple[float, Fault] | None:
    """The first report of a halt that is no heater's doing; None when there is none.

    A controller that protects itself names the heater and then halts, and may say that it has halted as often as it is
    asked: all that is one cause, which the heater's own alarm tells.
    """
    cause_at: float | None = None
    halted_by_it = False
    for at, fault in seen.faults:
        if fault.kind in HEATER_FAULTS:
            cause_at, halted_by_it = at, halted_by_it or fault.halted
        elif fault.halted or fault.kind in HALTS:
            if cause_at is None or not (halted_by_it or at - cause_at <= _LAST_WORDS):
                return at, fault
            halted_by_it = True
    return None
