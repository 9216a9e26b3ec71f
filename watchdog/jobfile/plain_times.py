"""Speeds → times: the look-ahead over the planner's blocks, exact also where a batch ends.

With u = v² and the gain 2aL of each move:  u[i+1] ≤ u[i] + gain[i]  forwards,  u[i] ≤ u[i+1] + gain[i]  backwards,
u[i] ≤ cap[i], and, since the newest of N moves must be able to stop,  u[i] ≤ gain[i] + … + gain[i+N−2].

What is final: the backward pass is run from rest and from the most that is possible; where both agree, nothing that comes
later can change it. The rest is kept for the next batch.
"""

from itertools import accumulate
from math import sqrt

from watchdog.jobfile.engine import Made
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.plain_speeds import Speeds
from watchdog.jobfile.rows import HeatSet, Rows, Wait
from watchdog.jobfile.timeline import Timeline

MOST_KEPT = 65_536
"""moves that wait for a decision; a file that keeps more open is taken to stop there, so that it cannot fill the memory"""


class Chain:
    """Rows in, times out."""

    def __init__(self, limits: MachineLimits, timeline: Timeline, made: list[Made] | None) -> None:
        self.speeds = Speeds(limits)
        self.timeline = timeline
        self.made = made
        self.blocks = limits.blocks
        self.pending: list[tuple[int, HeatSet]] = []
        """changes of heat, each before the move of that index"""

    def extend(self, rows: Rows) -> None:
        """Take in rows and what happens between them."""
        at = 0
        for row, event in rows.events:
            self.speeds.extend(rows, at, row)
            at = row
            if isinstance(event, Wait):
                self.plan(whole=True)
                self.timeline.event(event)
            elif self.speeds.gain:
                self.pending.append((len(self.speeds.gain), event))
            else:
                self.timeline.event(event)
        self.speeds.extend(rows, at, len(rows.end))

    def plan(self, *, whole: bool) -> None:
        """Time what is final; all of it when the machine comes to rest behind it."""
        speeds = self.speeds
        count = len(speeds.gain)
        if count == 0:
            return
        reach = self._forward(whole=whole)
        if not reach:
            return
        last, u = (len(reach) - 1, reach[-1]) if whole else self._final(reach)
        if last == 0:
            return
        times, entries = self._backward(reach, last, u)
        if self.made is not None:
            self._show(times, entries, u)
        at = 0
        for row, event in self.pending:
            if row > last or (row == last and not whole):
                break
            self._count(times, at, row)
            at = row
            self.timeline.event(event)
        self.pending = [(row - last, event) for row, event in self.pending if row > last or (row == last and not whole)]
        self._count(times, at, last)
        if whole:
            speeds.rest()
        else:
            speeds.drop(last, u)

    def _count(self, times: list[float], first: int, last: int) -> None:
        speeds = self.speeds
        self.timeline.moves_took(
            times[first:last], speeds.start[first:last], speeds.end[first:last], speeds.e[first:last]
        )

    def _forward(self, *, whole: bool) -> list[float]:
        """The highest u at each junction as far as the past and the planner's window tell."""
        speeds, ahead = self.speeds, self.blocks - 1
        gain, cap, stop = speeds.gain, speeds.cap, speeds.stop
        sums = [0.0, *accumulate(gain)]
        count = len(gain)
        known = count - ahead  # the last junction of which the whole window is here
        if not whole and known < 1:
            return []
        window = [far - near for far, near in zip(sums[ahead:], sums, strict=False)]
        if stop:
            window = [limit + end for limit, end in zip(window, stop[ahead - 1 :], strict=False)]
        caps = list(map(min, cap, window))
        if whole:
            caps += cap[len(caps) :]
            caps.append(stop[-1] if stop else 0.0)
        else:
            caps.append(speeds.v[known - 1] ** 2) if len(caps) <= known else None
        u = cap[0]
        reach = [u]
        put = reach.append
        for most, more in zip(caps[1:], gain, strict=False):
            u += more
            if most < u:
                u = most
            put(u)
        return reach

    def _final(self, reach: list[float]) -> tuple[int, float]:
        """The last junction that nothing to come can change, and its u."""
        high, low = reach[-1], 0.0
        gain = self.speeds.gain
        at = len(reach) - 1
        while at > 0 and high != low:
            at -= 1
            more, most = gain[at], reach[at]
            high = min(high + more, most)
            low = min(low + more, most)
        if high != low and len(reach) > MOST_KEPT:
            return len(reach) - 1, 0.0
        return at, high

    def _backward(self, reach: list[float], last: int, u: float) -> tuple[list[float], list[float]]:
        """Times of the moves before junction `last`, and the u at which each is entered."""
        speeds = self.speeds
        times: list[float] = []
        entries: list[float] = []
        put, enter = times.append, entries.append
        leave_u, leave = u, sqrt(u)
        for most, more, v, a, length in zip(
            reach[last - 1 :: -1] if last else (), speeds.gain[last - 1 :: -1], speeds.v[last - 1 :: -1],
            speeds.a[last - 1 :: -1], speeds.length[last - 1 :: -1], strict=True,
        ):  # fmt: skip
            u = leave_u + more
            if most < u:
                u = most
            enter(u)
            top = v * v
            if u == top and leave_u == top:
                put(length / v)
                continue
            entry = sqrt(u)
            peak = (more + u + leave_u) / 2
            if peak < top:
                put((2 * sqrt(peak) - entry - leave) / a)
            else:
                put((2 * v - entry - leave) / a + (length - (2 * top - u - leave_u) / (2 * a)) / v)
            leave_u, leave = u, entry
        times.reverse()
        entries.reverse()
        return times, entries

    def _show(self, times: list[float], entries: list[float], u: float) -> None:
        assert self.made is not None
        clock = self.timeline.clock
        speeds = self.speeds
        leaves = [*entries[1:], u]
        for end, seconds, entry, leave, length in zip(speeds.end, times, entries, leaves, speeds.length, strict=False):
            self.made.append(Made(end, clock, seconds, sqrt(entry), sqrt(leave), length))
            clock += seconds
