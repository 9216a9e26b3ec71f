"""Rows → what each move may do: length, acceleration, speed, and how fast it may be entered.

Formulas: `kinematics`; here they are written out, since this loop is half of the engine's work. u is a squared speed.
"""

from math import inf, sqrt

from watchdog.jobfile.kinematics import corner_by_deviation, corner_classic, corner_on_short_arc, start_classic
from watchdog.jobfile.machine_limits import Axes, MachineLimits
from watchdog.jobfile.rows import Force, Rows

TINY = 1e-7
"""mm: less is no move"""
FAR = 1e6
"""mm: more is nonsense"""
LAYER = 0.05
"""mm: a rise by this, with filament laid, is a new layer"""
MOST_LAYERS = 20_000


class Speeds:
    """Columns of moves that are not timed yet, from one rest to the next."""

    def __init__(self, limits: MachineLimits) -> None:
        self.limits = limits
        self.gain: list[float] = []
        """2aL: what u may change over the move"""
        self.cap: list[float] = []
        """u at which the move may be entered, as far as the corner before it says"""
        self.v: list[float] = []
        self.a: list[float] = []
        self.length: list[float] = []
        self.stop: list[float] = []
        """u from which the move may come to rest at its end; only filled under the classic limit"""
        self.e: list[float] = []
        self.start: list[int] = []
        self.end: list[int] = []
        self.before: tuple[float, float, float, float] | None = None
        """direction of the last move; None after a rest"""
        self.before_v = 0.0
        self.too_fast = 0
        self.absurd = 0
        self.layers: list[int] = []
        self.top = -inf
        """mm: z of the present layer"""

    def extend(self, rows: Rows, first: int, last: int) -> None:
        """Take in rows [first, last) under the limits in force there."""
        forces = rows.forces
        for nth, (begins, force) in enumerate(forces):
            ends = forces[nth + 1][0] if nth + 1 < len(forces) else last
            low, high = max(first, begins), min(last, ends)
            if low < high:
                self._run(rows, low, high, force)

    def _run(self, rows: Rows, first: int, last: int, force: Force) -> None:
        speed_x, speed_y, speed_z, speed_e = force.speed
        accel_x, accel_y, accel_z, accel_e = force.acceleration
        printing, travelling, feeding, deviation = (
            force.printing,
            force.travelling,
            force.feeding,
            force.deviation or 0.0,
        )
        slow, weak = min(speed_x, speed_y), min(accel_x, accel_y)
        rate = self.limits.commands_per_second or inf
        special = force.deviation is None or self.limits.short_arcs or self.limits.corner_counts_filament
        bend, rests = force.radius, self.limits.filament_alone_rests
        lay = self.top + LAYER
        gains, caps, vs, accels = self.gain.append, self.cap.append, self.v.append, self.a.append
        lengths, es, starts, ends = self.length.append, self.e.append, self.start.append, self.end.append
        before, before_v = self.before, self.before_v
        px, py, pz, pe = before or (0.0, 0.0, 0.0, 0.0)
        fresh = before is None
        span = slice(first, last)
        for dx, dy, dz, de, v, start, end, high in zip(
            rows.x[span], rows.y[span], rows.z[span], rows.e[span],
            rows.v[span], rows.start[span], rows.end[span], rows.high[span], strict=True,
        ):  # fmt: skip
            square = dx * dx + dy * dy + dz * dz
            if square > 1e-14:
                if not (square < 1e12 and -FAR < de < FAR):
                    self.absurd += 1
                    continue
                length = sqrt(square)
                ux, uy, uz, ue = dx / length, dy / length, dz / length, 0.0
                a, asked = travelling, v
                if v > slow:
                    if abs(ux) * v > speed_x:
                        v = speed_x / abs(ux)
                    if abs(uy) * v > speed_y:
                        v = speed_y / abs(uy)
                if uz and abs(uz) * v > speed_z:
                    v = speed_z / abs(uz)
                if de:
                    a = printing
                    share = abs(de) / length
                    if share * v > feeding:
                        v = feeding / share
                    if share * a > accel_e:
                        a = accel_e / share
                    if high >= lay and de > 0 and (dx or dy):
                        self.top = high
                        lay = high + LAYER
                        if len(self.layers) < MOST_LAYERS:
                            self.layers.append(start)
                if v < asked:
                    self.too_fast += 1
                if uz and abs(uz) * a > accel_z:
                    a = accel_z / abs(uz)
                if a > weak:
                    if abs(ux) * a > accel_x:
                        a = accel_x / abs(ux)
                    if abs(uy) * a > accel_y:
                        a = accel_y / abs(uy)
                if v * v > a * bend:
                    v = sqrt(a * bend)
            else:
                length = abs(de)
                if not TINY < length < FAR:
                    self.absurd += not length < FAR
                    continue
                ux = uy = uz = 0.0
                ue = 1.0 if de > 0 else -1.0
                if v > speed_e:
                    v = speed_e
                    self.too_fast += 1
                a = min(force.retracting, accel_e)
            if v > length * rate:
                v = length * rate
            if special:
                cap = self._special((px, py, pz, pe), (ux, uy, uz, ue), v, a, length, de, force, fresh, before_v)
                if self.limits.corner_counts_filament and not ue:
                    whole = sqrt(length * length + de * de) / length
                    ux, uy, uz, ue = ux / whole, uy / whole, uz / whole, de / length / whole
            elif fresh or (rests and bool(ue) != bool(pe)):
                cap = 0.0
            else:
                cap = v * v if v < before_v else before_v * before_v
                sx, sy, sz, se = ux + px, uy + py, uz + pz, ue + pe
                s2 = (sx * sx + sy * sy + sz * sz + se * se) / 4
                if s2 < 1.0:
                    along = a
                    if a > weak or uz != pz or ue or pe:
                        turn = 2 * sqrt(1.0 - s2)
                        if along * abs(ux - px) > accel_x * turn:
                            along = accel_x * turn / abs(ux - px)
                        if along * abs(uy - py) > accel_y * turn:
                            along = accel_y * turn / abs(uy - py)
                        if along * abs(uz - pz) > accel_z * turn:
                            along = accel_z * turn / abs(uz - pz)
                        if along * abs(ue - pe) > accel_e * turn:
                            along = accel_e * turn / abs(ue - pe)
                    corner = along * deviation * (sqrt(s2) + s2) / (1.0 - s2)
                    if corner < cap:
                        cap = corner
            gains(2 * a * length)
            caps(cap)
            vs(v)
            accels(a)
            lengths(length)
            es(de)
            starts(start)
            ends(end)
            px, py, pz, pe, before_v, fresh = ux, uy, uz, ue, v, False
        if not fresh:
            self.before, self.before_v = (px, py, pz, pe), before_v

    def _special(
        self, before: Axes, after: Axes, v: float, a: float, length: float, de: float, force: Force, fresh: bool,
        before_v: float,
    ) -> float:  # fmt: skip
        """u of the corner under the rarer rules. The direction `after` is without filament unless that moves alone."""
        x, y, z, alone = after
        share = alone or de / length
        if force.deviation is None:
            along = (x, y, z, share)
            last = self._share
            self._share = along
            stop = start_classic(v, along, force.jerk) ** 2
            self.stop.append(stop)
            if fresh:
                return stop
            return corner_classic(min(v, before_v), last, along, force.jerk) ** 2
        if self.limits.corner_counts_filament and not alone:
            whole = sqrt(1 + share * share)
            after = (x / whole, y / whole, z / whole, share / whole)
        if fresh or (self.limits.filament_alone_rests and bool(alone) != self._alone):
            self._alone = bool(alone)
            return 0.0
        self._alone = bool(alone)
        speed = corner_by_deviation(before, after, a, force.deviation, force.acceleration)
        if self.limits.short_arcs and length < 1:
            speed = min(speed, corner_on_short_arc(before, after, length, a))
        return min(v, before_v, speed) ** 2

    _alone = False
    """the last move was of the filament alone"""
    _share: Axes = (0.0, 0.0, 0.0, 0.0)
    """part of each axis in a mm of the last move, filament included"""

    def rest(self) -> None:
        """All columns have been timed, and the machine stands."""
        for column in (self.gain, self.cap, self.v, self.a, self.length, self.stop, self.e):
            column.clear()
        self.start.clear()
        self.end.clear()
        self.before = None

    def drop(self, count: int, entry: float) -> None:
        """The first moves have been timed; the next one is entered at this u."""
        for column in (self.gain, self.cap, self.v, self.a, self.length, self.stop, self.e):
            del column[:count]
        del self.start[:count]
        del self.end[:count]
        if self.cap:
            self.cap[0] = entry
