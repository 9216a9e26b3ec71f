"""What a snapshot shows, asked the same way by several detectors, which may not ask each other."""

from collections.abc import Container

from watchdog.core.finding import Finding
from watchdog.core.observations import Fault, FaultKind
from watchdog.core.snapshot import Heater, Link, Origin, Snapshot, Source

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
