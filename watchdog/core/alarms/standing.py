"""What is remembered about one alarm of one machine: plain values that go to disk and back as JSON."""

from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import NamedTuple

from watchdog.core.effects import Priority
from watchdog.core.finding import Evidence
from watchdog.core.moment import Moment


class Phase(StrEnum):
    """Where an alarm is in its life (ANSI/ISA-18.2; the paths between them are drawn in `lifecycle`)."""

    NORMAL = "normal"
    MATURING = "maturing"
    """the condition is there, and is either younger than its on-delay or held back (`Standing.held_back`)"""
    UNACKNOWLEDGED = "unacknowledged"
    ACKNOWLEDGED = "acknowledged"
    RETURNED = "returned"
    """latched: the condition has gone, and nobody has acknowledged yet"""


class Acknowledgement(NamedTuple):
    """Who took it on."""

    by: str
    how: str
    at: Moment


class Shelf(NamedTuple):
    """A person's silence for a bounded time."""

    until: float
    """s, elapsed"""
    by: str
    reason: str


@dataclass(frozen=True, slots=True)
class Standing:
    """One alarm's memory. The default is one that has never been raised."""

    phase: Phase = Phase.NORMAL
    condition: bool | None = None
    """as last known; an answer of 'cannot tell' leaves it"""
    since: Moment | None = None
    """when the condition was first seen in this run"""
    held: float = 0.0
    """s that the condition (not raised) or its absence (raised) has held without a break"""
    counted_at: float | None = None
    """elapsed up to which `held` counts; None while it does not run"""
    occurrence: int = 0
    """raisings so far"""
    raised: Moment | None = None
    priority: Priority | None = None
    """of this occurrence; None while none stands"""
    evidence: Evidence = field(default_factory=dict)
    """as last seen with the condition present"""
    acknowledged: Acknowledgement | None = None
    told: int = 0
    """messages about this occurrence"""
    due: float | None = None
    """elapsed at which it is told again; None when it will not be"""
    gap: float | None = None
    """s: the pause that `due` ends; None when the next message starts the rhythm anew"""
    shelf: Shelf | None = None
    suppressed_by: str | None = None
    """the standing alarm of which this one only follows"""
    held_back: bool = False
    """it would have been raised, had it not been shelved or suppressed"""
    recent: tuple[float, ...] = ()
    """elapsed of the last raisings, newest last: what chattering is seen by"""
    returns: int = 0
    """raisings in the present burst"""
    chatter_told: float | None = None
    """elapsed at which people were told that it keeps returning"""


REST = Standing()


def at_rest(standing: Standing) -> bool:
    """Nothing runs and nothing is silenced: only a present condition can change it."""
    return standing.phase is Phase.NORMAL and standing.shelf is None


def announced(standing: Standing) -> bool:
    """Raised, and its condition there as far as is known."""
    return standing.phase is Phase.UNACKNOWLEDGED or standing.phase is Phase.ACKNOWLEDGED


def quiet(standing: Standing) -> bool:
    """Nobody is spoken to about it now."""
    return standing.shelf is not None or standing.suppressed_by is not None


def silences(standing: Standing) -> bool:
    """Its followers need not be announced: it stands itself, or is held back for an alarm that does.

    A shelved alarm silences nothing: a person who put it aside has not put its followers aside.
    """
    follows = standing.held_back and standing.suppressed_by is not None
    return standing.shelf is None and (announced(standing) or follows)


def over(standing: Standing) -> Standing:
    """After clearing: what is kept of a finished occurrence. A run of the condition that has begun goes on."""
    kept = Standing(
        condition=standing.condition,
        occurrence=standing.occurrence,
        shelf=standing.shelf,
        suppressed_by=standing.suppressed_by,
        recent=standing.recent,
        returns=standing.returns,
        chatter_told=standing.chatter_told,
    )
    if standing.since is None:
        return kept
    return replace(
        kept,
        phase=Phase.MATURING,
        since=standing.since,
        held=standing.held,
        counted_at=standing.counted_at,
        evidence=standing.evidence,
        held_back=standing.held_back,
    )
