"""Silent: no answer or no port, over a machine that was cold and idle when last heard, or never heard.

Looks at  the link, what is owed and unanswered, when the machine last spoke (s).
Present   after `quiet`, or what this machine's own longest silence in healthy jobs makes of it (`core.patience`; a port
          that is gone waits `quiet` itself); absent again at the first word. Over a hot machine it is another detector's
          business.
Because   the watch is blind.
"""

from dataclasses import dataclass

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.patience import silence
from watchdog.core.sight import unanswered
from watchdog.core.snapshot import Link, Snapshot

NAME = "silent"


@dataclass(frozen=True, slots=True)
class Limits:
    """How long the watch may be blind over a cold machine."""

    quiet: float = limit(
        60, "s", "switching on and plugging in take less; common practice, no source", least=5, most=86400
    )
    floor: float = limit(
        30,
        "s",
        "what a machine that always answers may tighten it to: half of it; project's choice",
        least=5,
        most=86400,
    )
    queries: int = limit(4, "1", "in a row without an answer; project's choice", least=1, most=100)
    blocking: float = limit(
        900,
        "s",
        "a large bed heats up without a word, 12 min and more; nothing is hot yet; project's choice",
        least=5,
        most=7200,
    )


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    told: bool = False
    heard: float | None = None  # s, elapsed: the last word when it was told; None when there never was one


_FRESH = Memory()


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    gone = seen.link is Link.UNAVAILABLE
    quiet = silence(seen.usual, limits.quiet, limits.floor)
    if seen.heat_when_lost or (not gone and seen.heard is not None and seen.at - seen.heard < quiet):
        return (_FRESH if memory.told else memory), ABSENT
    if memory.told and seen.heard == memory.heard:
        return memory, _present(seen)
    answer: bool | None
    if gone:
        answer = seen.at - max(seen.link_since, seen.sighted_since) >= limits.quiet
    else:
        answer = unanswered(seen, quiet, limits.queries, limits.blocking)
    if answer is None:
        return memory, UNKNOWN
    if not answer:
        return (_FRESH if memory.told else memory), ABSENT
    return Memory(True, seen.heard), _present(seen)


def _present(seen: Snapshot) -> Finding:
    return Finding(
        True,
        {
            "link": seen.link.value,
            "unheard_for_s": None if seen.heard is None else round(seen.at - seen.heard),
            "unanswered": seen.unanswered,
        },
    )
