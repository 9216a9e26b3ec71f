"""Columns → what each move may do, with NumPy. The same rules as `plain_speeds`, on all moves of a batch at once."""

from dataclasses import dataclass
from math import inf

import numpy as np

from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.plain_speeds import FAR, LAYER, MOST_LAYERS, TINY
from watchdog.jobfile.rows import Force, HeatSet, Wait
from watchdog.jobfile.vector_apart import Floats, Places
from watchdog.jobfile.vector_reading import Columns

Each = Floats | float


@dataclass(slots=True)
class Ready:
    """Moves that can be timed."""

    gain: Floats
    cap: Floats
    v: Floats
    a: Floats
    length: Floats
    stop: Floats
    """u from which a move may come to rest; zeros under junction deviation"""
    e: Floats
    start: Places
    end: Places
    events: list[tuple[int, Wait | HeatSet]]


class VectorSpeeds:
    """What is carried from batch to batch between two moves."""

    def __init__(self, limits: MachineLimits) -> None:
        self.limits = limits
        self.before: Floats = np.zeros(4)
        """direction of the last move"""
        self.share = 0.0
        """mm of filament in a mm of the last move; 1 or −1 when it was of the filament alone"""
        self.before_v = 0.0
        self.fresh = True
        """the machine is at rest"""
        self.too_fast = 0
        self.absurd = 0
        self.layers: list[int] = []
        self.top = -inf

    def ready(self, rows: Columns) -> Ready:
        """Every move of a batch; nothing is left out but what moves nothing, or over a kilometre."""
        with np.errstate(all="ignore"):
            return self._ready(rows)

    def _ready(self, rows: Columns) -> Ready:
        square = rows.x * rows.x + rows.y * rows.y + rows.z * rows.z
        fed = np.abs(rows.e)
        travels = square > 1e-14
        length = np.where(travels, np.sqrt(square), fed)
        near = np.where(travels, square < 1e12, length < FAR) & (fed < FAR)
        # an endless displacement fails both comparisons, and is absurd rather than nothing
        good = near & (travels | (length > TINY))
        events, forces = rows.events, rows.forces
        x, y, z, e, v, start, end, high = rows.x, rows.y, rows.z, rows.e, rows.v, rows.start, rows.end, rows.high
        if not good.all():
            self.absurd += int(np.count_nonzero(~near))
            moved = np.concatenate(([0], np.cumsum(good)))
            events = [(int(moved[row]), event) for row, event in events]
            forces = [(int(moved[row]), force) for row, force in forces]
            x, y, z, e, v, high = (column[good] for column in (x, y, z, e, v, high))
            start, end, length, travels, fed = start[good], end[good], length[good], travels[good], fed[good]
        count = len(length)
        if count == 0:
            return Ready(length, length, length, length, length, length, length, start, end, self._rest(events))
        alone = not bool(travels.all())
        ux, uy, uz = x / length, y / length, z / length
        ue: Floats = np.where(travels, 0.0, np.sign(e)) if alone else np.zeros(0)
        if alone:
            ux, uy, uz = np.where(travels, ux, 0.0), np.where(travels, uy, 0.0), np.where(travels, uz, 0.0)
        self._lay(travels & (e > 0) & ((x != 0) | (y != 0)), high, start)
        force = _Forces(forces, count)
        v, a = self._limit(force, v, (ux, uy, uz), fed / length, travels, e, alone)
        if self.limits.commands_per_second is not None:
            v = np.minimum(v, length * self.limits.commands_per_second)
        fresh = np.zeros(count, bool)
        fresh[0] = self.fresh
        for row, event in events:
            if isinstance(event, Wait) and row < count:
                fresh[row] = True
        cap, stop = self._corners(force, (ux, uy, uz), ue, e / length, travels, v, a, length, fresh, alone)
        ready = Ready(2 * a * length, cap, v, a, length, stop, e, start, end, events)
        self.before_v = float(v[-1])
        self.fresh = any(row == count and isinstance(event, Wait) for row, event in events)
        return ready

    def _rest(self, events: list[tuple[int, Wait | HeatSet]]) -> list[tuple[int, Wait | HeatSet]]:
        self.fresh = self.fresh or any(isinstance(event, Wait) for _, event in events)
        return events

    def _lay(self, laid: np.ndarray[tuple[int], np.dtype[np.bool_]], high: Floats, start: Places) -> None:
        """Where layers begin."""
        tops = np.maximum.accumulate(np.where(laid, high, -inf))
        while tops[-1] > -inf and tops[-1] >= self.top + LAYER:
            first = int(np.searchsorted(tops, self.top + LAYER)) if self.top > -inf else int(np.argmax(tops > -inf))
            self.top = float(high[first])
            if len(self.layers) < MOST_LAYERS:
                self.layers.append(int(start[first]))

    def _limit(
        self,
        force: "_Forces",
        v: Floats,
        way: tuple[Floats, Floats, Floats],
        share: Floats,
        travels: np.ndarray[tuple[int], np.dtype[np.bool_]],
        e: Floats,
        alone: bool,
    ) -> tuple[Floats, Floats]:
        """Speed and acceleration of each move, held to what every axis can do."""
        feeds = e != 0
        a = np.where(feeds, force.of("printing"), force.of("travelling"))
        asked = v
        filament: Each = force.of("feeding")
        if alone:
            a = np.where(travels, a, force.of("retracting"))
            filament = np.where(travels, filament, force.axis("speed", 3))
        for axis, part in enumerate(way):
            if axis == 2 and not part.any():
                continue
            size = np.abs(part)
            v = np.minimum(v, force.axis("speed", axis) / size)
            a = np.minimum(a, force.axis("acceleration", axis) / size)
        v = np.minimum(v, filament / share)
        a = np.minimum(a, force.axis("acceleration", 3) / share)
        self.too_fast += int(np.count_nonzero(v < asked))
        if force.bent:
            radius = force.of("radius")
            v = np.where(travels, np.minimum(v, np.sqrt(a * radius)), v)
        return v, a

    def _corners(
        self,
        force: "_Forces",
        way: tuple[Floats, Floats, Floats],
        ue: Floats,
        share: Floats,
        travels: np.ndarray[tuple[int], np.dtype[np.bool_]],
        v: Floats,
        a: Floats,
        length: Floats,
        fresh: np.ndarray[tuple[int], np.dtype[np.bool_]],
        alone: bool,
    ) -> tuple[Floats, Floats]:
        """u at which each move may be entered, and u from which it may stop."""
        limits = self.limits
        slower = np.minimum(v, _shifted(v, self.before_v))
        if force.first.deviation is None:
            cap, stop = self._classic(force, (*way, share), v, slower, fresh)
            self.before, self.share = np.array([part[-1] for part in (*way, share)]), float(share[-1])
            return cap, stop
        parts: list[Floats] = list(way)
        if limits.corner_counts_filament:
            whole = np.where(travels, np.sqrt(1 + share * share), 1.0)
            parts = [*(part / whole for part in way), share / whole]
        elif alone or self.before[3]:
            parts.append(ue if alone else np.zeros(len(v)))
        before = [_shifted(part, float(last)) for part, last in zip(parts, self.before, strict=False)]
        s2: Floats = np.zeros(len(v))
        for one, two in zip(before, parts, strict=True):
            both = one + two
            s2 += both * both
        s2 /= 4
        left = 1.0 - s2
        turn = 2 * np.sqrt(np.maximum(left, 0.0))
        along = a
        for axis, (one, two) in enumerate(zip(before, parts, strict=True)):
            if axis == 2 and not two.any() and not one[0]:
                continue
            along = np.minimum(along, force.axis("acceleration", axis) * turn / np.abs(two - one))
            along = np.where(np.isnan(along), a, along) if axis == 2 else np.fmin(along, a)
        corner = np.where(left > 0, along * force.deviation * (np.sqrt(s2) + s2) / left, inf)
        cap = np.minimum(slower * slower, corner)
        if limits.short_arcs:
            cosine = np.clip(sum(one * two for one, two in zip(before, parts, strict=True)), -1.0, 1.0)
            angle = np.arccos(cosine)
            short = (length < 1) & (angle > 0) & (cosine > np.sqrt(0.5))
            cap = np.where(short, np.minimum(cap, length * a / angle), cap)
        if limits.filament_alone_rests:
            was = np.concatenate(([abs(self.share) == 1.0 and not self.before[:3].any()], ~travels[:-1]))
            cap[was == travels] = 0.0
        cap[fresh] = 0.0
        self.before = np.zeros(4)
        self.before[: len(parts)] = [part[-1] for part in parts]
        self.share = float(share[-1])
        return cap, np.zeros(len(v))

    def _classic(
        self, force: "_Forces", parts: tuple[Floats, ...], v: Floats, slower: Floats,
        fresh: np.ndarray[tuple[int], np.dtype[np.bool_]],
    ) -> tuple[Floats, Floats]:  # fmt: skip
        """The classic limit: each axis may change its speed by so much at once."""
        through: Floats = np.ones(len(v))
        rest: Floats = np.ones(len(v))
        last = (*self.before[:3].tolist(), self.share)
        for axis, part in enumerate(parts):
            jerk = force.axis("jerk", axis)
            through = np.fmin(through, jerk / (slower * np.abs(part - _shifted(part, last[axis]))))
            rest = np.fmin(rest, jerk / (v * np.abs(part)))
        stop = (v * rest) ** 2
        return np.where(fresh, stop, (slower * through) ** 2), stop


class _Forces:
    """The limits in force, as single numbers while they hold for the whole batch, else one a move."""

    def __init__(self, forces: list[tuple[int, Force]], count: int) -> None:
        begins = [row for row, _ in forces[1:]] + [count]
        spans = [end - start for (start, _), end in zip(forces, begins, strict=True)]
        self.kept = [(span, force) for span, (_, force) in zip(spans, forces, strict=True) if span > 0]
        self.first = self.kept[0][1]
        self.spans = np.array([span for span, _ in self.kept])
        self.bent = any(force.radius < inf for _, force in self.kept)
        self.deviation: Each = (
            0.0 if self.first.deviation is None else self._spread([f.deviation or 0.0 for _, f in self.kept])
        )

    def of(self, name: str) -> Each:
        return self._spread([getattr(force, name) for _, force in self.kept])

    def axis(self, name: str, axis: int) -> Each:
        return self._spread([getattr(force, name)[axis] for _, force in self.kept])

    def _spread(self, values: list[float]) -> Each:
        if len(set(values)) == 1:
            return values[0]
        spread: Floats = np.repeat(np.array(values), self.spans)
        return spread


def _shifted(column: Floats, before: float) -> Floats:
    """Each move's predecessor."""
    return np.concatenate(([before], column[:-1]))
