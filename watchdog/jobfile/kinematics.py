"""How long a move takes, and how fast a corner may be taken: the formulas, one by one.

    t = (v−v0)/a + (L−da−dd)/v + (v−v1)/a     when the speed v is reached; da = (v²−v0²)/2a, dd = (v²−v1²)/2a
    t = (2p−v0−v1)/a                          when not; p = √((2aL+v0²+v1²)/2)

The engines hold the same formulas, written out for speed. Lengths mm, speeds mm/s, accelerations mm/s², times s.
Sources: uniform acceleration; S. K. Jeon (24 Sept 2011) for junction deviation.
"""

from math import acos, inf, sqrt

from watchdog.jobfile.machine_limits import Axes


def duration(length: float, v0: float, v1: float, v: float, a: float) -> float:
    """s for one move from v0 to v1, at most at v. v1 must be within reach of v0."""
    peak = min(v * v, (2 * a * length + v0 * v0 + v1 * v1) / 2)
    top = sqrt(peak)
    if top == 0:
        return 0.0
    level = max(0.0, length - (2 * peak - v0 * v0 - v1 * v1) / (2 * a))
    return (2 * top - v0 - v1) / a + level / top


def within(limits: Axes, shares: Axes, asked: float) -> float:
    """`asked` along a move, lowered so that no axis exceeds its limit; `shares`: part of each axis in a mm of the move."""
    for most, share in zip(limits, shares, strict=True):
        if share and asked * abs(share) > most:
            asked = most / abs(share)
    return asked


def corner_by_deviation(before: Axes, after: Axes, a: float, deviation: float, limits: Axes | None = None) -> float:
    """Speed through a corner between two unit directions: v² = a δ s/(1−s), s = √(1+u1·u2)/√2. Infinite straight on.

    `limits` (mm/s²) lower `a` so that no axis exceeds its acceleration along u2−u1.
    """
    s2 = sum((one + two) ** 2 for one, two in zip(before, after, strict=True)) / 4
    if s2 >= 1:
        return inf
    if limits is not None:
        turn = 2 * sqrt(1 - s2)
        for most, one, two in zip(limits, before, after, strict=True):
            if a * abs(two - one) > most * turn:
                a = most * turn / abs(two - one)
    return sqrt(a * deviation * (sqrt(s2) + s2) / (1 - s2))


def corner_on_short_arc(before: Axes, after: Axes, length: float, a: float) -> float:
    """The speed at which segments of `length` follow the arc that they seem to make: v² = L a/φ. Infinite from 45° on."""
    turn = acos(max(-1.0, min(1.0, sum(one * two for one, two in zip(before, after, strict=True)))))
    return sqrt(length * a / turn) if 0 < turn < acos(sqrt(0.5)) else inf


def corner_classic(v: float, before: Axes, after: Axes, jerk: Axes) -> float:
    """Speed through a corner when each axis may change its speed by `jerk` at once; `v` the slower of both moves."""
    share = 1.0
    for most, one, two in zip(jerk, before, after, strict=True):
        change = v * abs(two - one)
        if change > most:
            share = min(share, most / change)
    return v * share


def start_classic(v: float, along: Axes, jerk: Axes) -> float:
    """Speed at which a move begins from rest, or ends at rest, under the classic limit."""
    return corner_classic(v, (0.0, 0.0, 0.0, 0.0), along, jerk)


def drained(seconds: float, queued: int, blocks: int, segment_seconds: float) -> float:
    """s that a move lasts when `queued` moves wait: with 2 or more but under half of `blocks` a short one is stretched.

    t + 2(B−t)/queued, the addition in whole µs as controllers count it. For lines that are seen as they come; a file is
    planned as if the queue were full, but for `commands_per_second`, at which both rules settle to one move a line.
    """
    if 2 <= queued < blocks / 2 and seconds < segment_seconds:
        return seconds + round(2e6 * (segment_seconds - seconds) / queued) / 1e6
    return seconds
