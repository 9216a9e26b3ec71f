"""The shape that all notices share."""

from watchdog.core.effects import Priority, Tell, TellKind
from watchdog.core.finding import Evidence
from watchdog.core.moment import Moment

FIRST_LAYER = "first-layer"
JOB_FINISHED = "job-finished"
WATCH_ON = "watch-on"
CLOSING = "closing"
DIGEST = "digest"
WAS_BLIND = "was-blind"
NAMES = (FIRST_LAYER, JOB_FINISHED, WATCH_ON, CLOSING, DIGEST, WAS_BLIND)


def notice(name: str, at: Moment, count: int, facts: Evidence, *, since: Moment | None = None) -> Tell:
    """A notice. `count` numbers those of one name: with both, it is never told twice. Low: it may wait for a break."""
    return Tell(at, TellKind.NOTICE, name, count, Priority.LOW, since or at, 1, facts, None)
