"""Speeds → times with NumPy: the two passes of `plain_times` as running minima.

With P the running sum of the gains, u[i+1] ≤ u[i] + gain[i] says that u − P never rises: forwards
u = minimum.accumulate(cap − P) + P, and backwards the mirror image. The sums begin anew with each batch, so that they keep
their digits; where a result comes within them of its cap, it is its cap.
"""

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from watchdog.jobfile.engine import Made
from watchdog.jobfile.fit import STEP
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.plain_times import MOST_KEPT
from watchdog.jobfile.rows import HeatSet, Wait
from watchdog.jobfile.timeline import Timeline
from watchdog.jobfile.vector_apart import Floats, Places
from watchdog.jobfile.vector_speeds import Ready

NOISE = 1e-7
"""mm²/s²: what the running sums may be off"""
_COLUMNS = ("gain", "cap", "v", "a", "length", "stop", "e", "start", "end")


class VectorChain:
    """Moves in, times out."""

    def __init__(self, limits: MachineLimits, timeline: Timeline, made: list[Made] | None) -> None:
        self.timeline = timeline
        self.made = made
        self.ahead = limits.blocks - 1
        self.kept: Ready | None = None

    def extend(self, new: Ready, *, whole: bool) -> None:
        """Time what is final of the kept and the new moves; all of it when the machine comes to rest behind them."""
        moves = new if self.kept is None else _joined(self.kept, new)
        low, changes = 0, []
        for row, event in moves.events:
            if isinstance(event, HeatSet):
                changes.append((row, event))
                continue
            self._plan(moves, low, row, changes, whole=True)
            self.timeline.event(event)
            low, changes = row, []
        count = len(moves.gain)
        done, u = self._plan(moves, low, count, changes, whole=whole)
        if whole:
            self.kept = None
            return
        kept = _ready([getattr(moves, name)[low + done :] for name in _COLUMNS], [])
        kept.events = [
            (row - low - done, event) for row, event in changes if row >= low + done and (done < count - low)
        ]
        if done and len(kept.cap):
            kept.cap = kept.cap.copy()
            kept.cap[0] = u
        self.kept = kept

    def _plan(
        self, moves: Ready, low: int, high: int, changes: list[tuple[int, HeatSet]], *, whole: bool
    ) -> tuple[int, float]:
        """Time the moves [low, high) as far as they are final: how many, and the u behind them."""
        count = high - low
        last, u = 0, np.zeros(1)
        if count:
            last, u = self._entries(moves, low, high, whole=whole)
        if not whole and last == 0:
            if not count:
                for _, event in changes:
                    self.timeline.event(event)
            return 0, 0.0
        times = _times(moves, low, low + last, u)
        if self.made is not None:
            clock = self.timeline.clock
            for n, seconds in enumerate(times.tolist()):
                at = low + n
                entry, leave = float(np.sqrt(u[n])), float(np.sqrt(u[n + 1]))
                self.made.append(Made(int(moves.end[at]), clock, seconds, entry, leave, float(moves.length[at])))
                clock += seconds
        at = low
        for row, event in changes:
            if row > low + last or (row == low + last and not whole):
                break
            self._count(moves, at, row, times[at - low : row - low])
            at = row
            self.timeline.event(event)
        self._count(moves, at, low + last, times[at - low :])
        return last, float(u[-1])

    def _entries(self, moves: Ready, low: int, high: int, *, whole: bool) -> tuple[int, Floats]:
        """The last final junction, and the u of every junction up to it."""
        gain, caps, stop = moves.gain[low:high], moves.cap[low:high], moves.stop[low:high]
        count, ahead = high - low, self.ahead
        known = count - ahead
        if not whole and known < 1:
            return 0, np.zeros(1)
        sums = np.concatenate(([0.0], np.cumsum(gain)))
        if whole:
            caps = np.concatenate((caps, stop[-1:]))
            reach = count
        else:
            caps = caps[: known + 1].copy()
            reach = known
        windows = min(known, reach) + 1
        if windows > 1:
            window = sums[ahead : ahead + windows] - sums[:windows]
            window += np.concatenate((np.zeros(max(0, 1 - ahead)), stop))[ahead - 1 : ahead - 1 + windows]
            caps[1:windows] = np.minimum(caps[1:windows], window[1:])
        sums = sums[: reach + 1]
        forth = _near(np.minimum.accumulate(caps - sums) + sums, caps)
        high_pass = np.minimum.accumulate((forth + sums)[::-1])[::-1]
        last = reach
        if not whole:
            ending = forth + sums
            ending[-1] = sums[-1]
            low_pass = np.minimum.accumulate(ending[::-1])[::-1]
            same = np.flatnonzero(high_pass == low_pass)
            if len(same):
                last = int(same[-1])
            elif reach >= MOST_KEPT:
                high_pass = low_pass
            else:
                return 0, np.zeros(1)
        return last, _near(high_pass[: last + 1] - sums[: last + 1], forth[: last + 1])

    def _count(self, moves: Ready, low: int, high: int, times: Floats) -> None:
        if low < high:
            _moves_took(self.timeline, times, moves.start[low:high], moves.end[low:high], moves.e[low:high])


def _near(u: Floats, caps: Floats) -> Floats:
    return np.maximum(np.where(u >= caps - NOISE, caps, u), 0.0)


def _joined(kept: Ready, new: Ready) -> Ready:
    before = len(kept.gain)
    events = kept.events + [(row + before, event) for row, event in new.events]
    return _ready([np.concatenate((getattr(kept, name), getattr(new, name))) for name in _COLUMNS], events)


def _ready(columns: Sequence[NDArray[Any]], events: list[tuple[int, Wait | HeatSet]]) -> Ready:
    gain, cap, v, a, length, stop, e, start, end = columns
    return Ready(gain, cap, v, a, length, stop, e, start, end, events)


def _times(moves: Ready, low: int, high: int, u: Floats) -> Floats:
    """s of each move [low, high), from the u at its ends."""
    v, a = moves.v[low:high], moves.a[low:high]
    enter, leave = u[:-1], u[1:]
    speed = np.sqrt(u)
    peak = np.minimum(v * v, (moves.gain[low:high] + enter + leave) / 2)
    top = np.sqrt(peak)
    level = np.maximum(moves.length[low:high] - (2 * peak - enter - leave) / (2 * a), 0.0)
    times: Floats = (2 * top - speed[:-1] - speed[1:]) / a + level / top
    return times


def _moves_took(timeline: Timeline, times: Floats, starts: Places, ends: Places, filament: Floats) -> None:
    """`Timeline.moves_took` for arrays."""
    count, lead = len(times), timeline.lead
    passed = timeline.clock + np.concatenate(([0.0], np.cumsum(times)))
    began = np.concatenate((timeline.began, passed[:-1]))
    timeline.moving += float(passed[-1]) - timeline.clock
    timeline.clock = float(passed[-1])
    timeline.moves += count
    timeline.began = began[-lead:].tolist()
    read = np.maximum(began[:count], timeline.freed)
    fed = timeline.filament + np.concatenate(([0.0], np.cumsum(filament)))
    step = np.floor(read / STEP)
    new = np.concatenate(([bool(read[0] >= timeline.edge)], step[1:] > step[:-1]))
    which = np.flatnonzero(new)
    if len(which):
        before = np.concatenate(([timeline.read], read[:-1]))[which]
        places = np.empty(2 * len(which), np.int64)
        when, by = np.empty(len(places)), np.empty(len(places))
        places[0::2], when[0::2], by[0::2] = starts[which], before, fed[which]
        places[1::2], when[1::2], by[1::2] = ends[which], read[which], fed[which + 1]
        rising = np.concatenate(([True], places[1:] > places[:-1]))
        timeline.fit.extend(places[rising].tolist(), when[rising].tolist(), by[rising].tolist())
        timeline.edge = (int(step[which[-1]]) + 1) * STEP
    timeline.read = float(read[-1])
    timeline.filament = float(fed[-1])
