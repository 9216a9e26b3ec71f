"""Link errors: the machine asks again and again for lines that were damaged on their way.

Looks at  numbered lines sent to the machine, and how many of them it refused.
Present   when a CUSUM of refused lines reaches `most`: a refused line adds `weight` less 1, a good one takes 1 away, never
          below 0. Absent again when the sum is back at 0, or no numbered line was sent for `rests`.
Because   lines that come too late or not at all shift layers and lose commands.

The sum is designed for 0.2 % of refused lines (routine) against 1 % (told soonest); see `CHART`. Within one look the refused
lines count first, which can only lower the sum: it never tells sooner than designed.
"""

from dataclasses import dataclass
from typing import Final

from watchdog.core.finding import ABSENT, UNKNOWN, Finding
from watchdog.core.limits import limit
from watchdog.core.sight import blind
from watchdog.core.snapshot import Snapshot
from watchdog.statistics.count_cusum import Chart

NAME = "link-errors"

HEALTHY: Final = 0.002
BAD: Final = 0.01
QUIET: Final = 1e9
CHART: Final = Chart(reference=1, limit=1847, scale=201)
"""`design_bernoulli(HEALTHY, BAD, QUIET)`; kept as a value since the design takes a second, a test makes it anew.

Lines until it tells, on average (exact): 1.0e9 at 0.2 % refused, 17 700 at 0.5 %, 1 780 at 1 %, 620 at 2 %. At 30 lines a
second that is one false alarm in 9 000 h of a link that is always at the worst of routine, and a minute at 1 %.
"""


@dataclass(frozen=True, slots=True)
class Limits:
    """The chart, and how long its verdict lasts."""

    weight: float = limit(
        CHART.scale, "lines", "of good ones that one refused line weighs: 0.2 % against 1 % refused", least=2, most=5000
    )
    most: float = limit(
        CHART.limit, "lines", "on average 1e9 lines at 0.2 % refused until a false alarm", least=10, most=100000
    )
    rests: float = limit(
        36000, "s", "without a numbered line: the school day is over; project's choice", least=60, most=604800
    )


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    lines: int = 0  # numbered lines sent, as last seen
    refused: int = 0  # of them, as last seen
    so_far: float = 0.0  # the sum, in lines
    sent_at: float | None = None  # s, elapsed: lines were last seen to be sent while it was told
    told: bool = False


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    lines, refused = seen.lines_sent - memory.lines, seen.resends - memory.refused
    if lines < 0 or refused < 0:  # the counts began anew
        memory = Memory(seen.lines_sent, seen.resends)
    elif lines or refused:
        memory = _counted(limits, memory, seen, lines, refused)
    elif memory.told and memory.sent_at is not None and seen.at - memory.sent_at >= limits.rests:
        memory = Memory(seen.lines_sent, seen.resends)
    if not memory.told:
        return memory, UNKNOWN if blind(seen) else ABSENT
    return memory, Finding(True, {"refused_in_all": seen.resends, "of_numbered_lines": seen.lines_sent})


def _counted(limits: Limits, memory: Memory, seen: Snapshot, lines: int, refused: int) -> Memory:
    so_far = max(0.0, memory.so_far + refused * (limits.weight - 1) - max(0, lines - refused))
    told = so_far > 0 if memory.told else so_far >= limits.most
    # No higher than the limit: a cured link is then known as cured after as many good lines.
    return Memory(seen.lines_sent, seen.resends, min(so_far, limits.most), seen.at if told else None, told)
