"""Link errors: lines are damaged on their way, to the machine or from it.

Looks at  numbered lines sent to the machine, and how many of them it refused; lines that hold bytes which are no text, among
          all lines: a question without a number is never asked for again.
Present   when a CUSUM of refused lines reaches `most`, or one of damaged lines reaches `read_most`: a bad line adds `weight`
          (`read_weight`) less 1, a good one takes 1 away, never below 0. Absent again when its sum is back at 0, or no such
          line has come for `rests`.
Because   lines that come too late or not at all shift layers and lose commands.

The sums are designed for 0.2 % of refused lines (routine) against 1 % (told soonest), and for 0.02 % of damaged lines against
1 %; see `CHART` and `READ_CHART`. Within one look the bad lines count first, which can only lower a sum, and the damaged lines
of one look count as one: a reset throws a burst of noise. So neither tells sooner than designed.
"""

from dataclasses import dataclass, replace
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

READ_HEALTHY: Final = 0.0002
READ_QUIET: Final = 1e8
READ_CHART: Final = Chart(reference=1, limit=1272, scale=398)
"""`design_bernoulli(READ_HEALTHY, BAD, READ_QUIET)`. One in 5,000 is the project's choice of routine: most cables show none.

Lines until it tells, on average (exact): 1.0e8 at 0.02 % damaged, 9 700 at 0.2 %, 1 180 at 0.5 %, 450 at 1 %, 200 at 2 %. At
two lines a second that is one false alarm in 14 000 h of a cable that is always at the worst of routine, and 4 minutes at 1 %.
Noise spoils several times as many lines as hold such bytes: most wrong bits give another character.
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
    read_weight: float = limit(
        READ_CHART.scale,
        "lines",
        "of good ones that one damaged line weighs: 0.02 % against 1 % damaged",
        least=2,
        most=5000,
    )
    read_most: float = limit(
        READ_CHART.limit, "lines", "on average 1e8 lines at 0.02 % damaged until a false alarm", least=10, most=100000
    )
    rests: float = limit(
        36000,
        "s",
        "without a numbered line, or a damaged one: the school day is over; project's choice",
        least=60,
        most=604800,
    )


@dataclass(frozen=True, slots=True)
class Memory:
    """What is remembered between snapshots."""

    lines: int = 0  # numbered lines sent, as last seen
    refused: int = 0  # of them, as last seen
    so_far: float = 0.0  # the sum, in lines
    sent_at: float | None = None  # s, elapsed: lines were last seen to be sent while it was told
    told: bool = False
    heard: int = 0  # lines of any kind, as last seen
    damaged: int = 0  # of them, as last seen
    read_so_far: float = 0.0  # the sum, in lines
    damaged_at: float | None = None  # s, elapsed: one was last seen while it was told
    read_told: bool = False


def observe(limits: Limits, memory: Memory, seen: Snapshot) -> tuple[Memory, Finding]:
    """Judge one snapshot; same arguments, same answer."""
    memory = _read(limits, _sent(limits, memory, seen), seen)
    if memory.told:
        return memory, Finding(True, {"refused_in_all": seen.resends, "of_numbered_lines": seen.lines_sent})
    if memory.read_told:
        return memory, Finding(True, {"damaged_in_all": seen.damaged, "of_all_lines": seen.lines_heard})
    return memory, UNKNOWN if blind(seen) else ABSENT


def _sent(limits: Limits, memory: Memory, seen: Snapshot) -> Memory:
    lines, refused = seen.lines_sent - memory.lines, seen.resends - memory.refused
    if lines == 0 and refused == 0:
        rested = memory.told and memory.sent_at is not None and seen.at - memory.sent_at >= limits.rests
        return replace(memory, so_far=0.0, sent_at=None, told=False) if rested else memory
    so_far, told, at = 0.0, False, None
    if lines >= 0 and refused >= 0:  # else the counts began anew
        so_far = max(0.0, memory.so_far + refused * (limits.weight - 1) - max(0, lines - refused))
        told = so_far > 0 if memory.told else so_far >= limits.most
        # No higher than the limit: a cured link is then known as cured after as many good lines.
        so_far, at = min(so_far, limits.most), seen.at if told else None
    return replace(memory, lines=seen.lines_sent, refused=seen.resends, so_far=so_far, sent_at=at, told=told)


def _read(limits: Limits, memory: Memory, seen: Snapshot) -> Memory:
    if seen.damaged == memory.damaged and not memory.read_so_far:
        return memory  # nothing runs: good lines cannot lower a sum of 0
    lines, damaged = seen.lines_heard - memory.heard, seen.damaged - memory.damaged
    if lines < 0 or damaged < 0:  # the counts began anew
        return replace(
            memory, heard=seen.lines_heard, damaged=seen.damaged, read_so_far=0.0, damaged_at=None, read_told=False
        )
    at = seen.at if damaged else memory.damaged_at
    if lines == 0 and not (memory.read_told and at is not None and seen.at - at >= limits.rests):
        return memory
    bad = min(damaged, 1)
    so_far = max(0.0, memory.read_so_far + bad * (limits.read_weight - 1) - (lines - bad))
    if memory.read_told and at is not None and seen.at - at >= limits.rests:
        so_far = 0.0
    told = so_far > 0 if memory.read_told else so_far >= limits.read_most
    return replace(
        memory,
        heard=seen.lines_heard,
        damaged=seen.damaged,
        read_so_far=min(so_far, limits.read_most),
        damaged_at=at if told else None,
        read_told=told,
    )
