"""Card fault: the card cannot be read or is gone in a job, or the byte counter runs back.

Looks at  card faults, the byte counter and the card's removal, within the present or last job from the card.
Present   at the sign; absent again when another job begins, or `stands` after the last sign while the machine answers.
Urgent    when it repeats (`often` in `often_within`), or when answers stop while it was hot.
Because   the job is lost or frozen. In published cases the heater outputs then stay as they were, and the machine's own
          protection does not run.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Evidence, Finding
from watchdog.core.limits import limit
from watchdog.core.observations import FaultKind
from watchdog.core.sight import blind
from watchdog.core.snapshot import Job, Origin, Snapshot

NAME = "card-fault"


@dataclass(frozen=True, slots=True)
class Limits:
    """When a card fault is urgent, and how long it stands."""

    often: int = limit(3, "1", "one error may be a glitch, a row of them is a loop; project's choice", least=2, most=30)
    often_within: float = limit(60, "s", "the time in which they are counted; project's choice", least=5, most=3600)
    quiet: float = limit(20, "s", "without a word while hot; project's choice", least=5, most=600)
    stands: float = limit(600, "s", "after the last sign; the time in which somebody looks", least=60, most=86400)
    belongs: float = limit(10, "s", "an error said this long after the job's end is still the job's", most=600)


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    urgent: bool = False  # once urgent it stays so while it stands


_FRESH = Memory()
_URGENT = Memory(urgent=True)
_KINDS = (FaultKind.CARD_READ, FaultKind.CARD_GONE)


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    if not seen.faults and seen.byte_fell_at is None and seen.card_gone_at is None:
        return (_FRESH if memory.urgent else memory), UNKNOWN if blind(seen) else ABSENT
    errors, signs = _signs(limits, seen)
    unseen = blind(seen)
    if not signs or (seen.at - max(signs)[0] >= limits.stands and not unseen):
        return (_FRESH if memory.urgent else memory), UNKNOWN if unseen and not signs else ABSENT
    repeats = any(
        late - early <= limits.often_within for early, late in zip(errors, errors[limits.often - 1 :], strict=False)
    )
    quiet = seen.heat_when_lost and seen.heard is not None and seen.at - seen.heard >= limits.quiet
    urgent = memory.urgent or repeats or quiet
    at, sign = max(signs)
    evidence: Evidence = {
        "sign": sign,
        "since_s": round(seen.at - min(signs)[0]),
        "last_s": round(seen.at - at),
        "errors": len(errors),
    }
    return (_URGENT if urgent else memory), Finding(True, evidence, urgent)


def _signs(limits: Limits, seen: Snapshot) -> tuple[list[float], list[tuple[float, str]]]:
    """When the machine reported errors; and all signs with their words. Those of other jobs, or of none, do not count."""
    job = seen.job
    if job is None or job.origin is not Origin.CARD:
        return [], []
    faults = [(at, fault) for at, fault in seen.faults if fault.kind in _KINDS and _within(limits, job, at)]
    signs = [(at, fault.kind.value) for at, fault in faults]
    if seen.byte_fell_at is not None and _within(limits, job, seen.byte_fell_at):
        signs.append((seen.byte_fell_at, "counter ran back"))
    if seen.card_gone_at is not None and _within(limits, job, seen.card_gone_at):
        signs.append((seen.card_gone_at, FaultKind.CARD_GONE.value))
    return [at for at, _ in faults], signs


def _within(limits: Limits, job: Job, at: float) -> bool:
    return job.started <= at and (job.ended is None or at <= job.ended + limits.belongs)
