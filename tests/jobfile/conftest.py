"""What the tests of the job plan share: both engines, job files of five shapes, and chains of moves given by numbers."""

import math
import random
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
import pytest

from watchdog.core.plan import Plan
from watchdog.jobfile.engine import Engine, Made
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.plain import PlainEngine
from watchdog.jobfile.plain_times import Chain
from watchdog.jobfile.rules import Faults, Rules
from watchdog.jobfile.timeline import Timeline
from watchdog.jobfile.vector import VectorEngine
from watchdog.jobfile.vector_speeds import Ready
from watchdog.jobfile.vector_times import VectorChain

ENGINES: dict[str, type[Engine]] = {"plain": PlainEngine, "vector": VectorEngine}
FAR = (1e6, 1e6, 1e6, 1e6)
"""no axis is ever the limit"""


class Outcome(NamedTuple):
    """A plan and every move of it."""

    plan: Plan
    moves: list[Made]


@pytest.fixture(scope="session")
def wide() -> Callable[..., MachineLimits]:
    """A machine whose axes never limit it: only accelerations and corners count, and its queue is as good as endless."""

    def make(**changes: object) -> MachineLimits:
        known: dict[str, object] = {"speed": FAR, "acceleration": FAR, "blocks": 5000, "deviation": 0.02}
        return MachineLimits(**(known | changes))  # type: ignore[arg-type]

    return make


@pytest.fixture(scope="session")
def run() -> Callable[..., Outcome]:
    """Plans a text with the named engine, fed in pieces, read in batches."""

    def plan(
        engine: str,
        text: str | bytes,
        limits: MachineLimits | None = None,
        *,
        rules: Rules | None = None,
        piece: int = 1 << 20,
        batch: int | None = None,
    ) -> Outcome:
        content = text.encode() if isinstance(text, str) else text
        made: list[Made] = []
        running = ENGINES[engine](limits or MachineLimits(), rules, made)
        if batch is not None:
            running.batch = batch
        for at in range(0, len(content), piece):
            running.feed(content[at : at + piece])
        return Outcome(running.finish(), made)

    return plan


@pytest.fixture(scope="session")
def timed() -> Callable[..., list[Made]]:
    """Times moves of which length, speed, acceleration and the cap of each junction (one more than moves) are given."""

    def times(
        engine: str,
        lengths: Sequence[float],
        speeds: Sequence[float],
        caps: Sequence[float],
        a: float,
        blocks: int = 5000,
        batch: int | None = None,
    ) -> list[Made]:
        limits = MachineLimits(blocks=blocks)
        made: list[Made] = []
        timeline = Timeline(limits, Rules(), Faults())
        plain, vector = Chain(limits, timeline, made), VectorChain(limits, timeline, made)
        count = len(lengths)
        batch = batch or count
        for low in range(0, count, batch):
            part = slice(low, min(low + batch, count))
            n = part.stop - low
            entries = [cap * cap for cap in caps[part]]
            if engine == "plain":
                speeds_ = plain.speeds
                speeds_.gain += [2 * a * length for length in lengths[part]]
                speeds_.cap += entries
                speeds_.v += speeds[part]
                speeds_.a += [a] * n
                speeds_.length += lengths[part]
                speeds_.e += [0.0] * n
                speeds_.start += range(low, part.stop)
                speeds_.end += range(low + 1, part.stop + 1)
                plain.plan(whole=part.stop == count)
                continue
            length = np.array(lengths[part], float)
            ready = Ready(
                2 * a * length, np.array(entries), np.array(speeds[part], float), np.full(n, float(a)), length,
                np.zeros(n), np.zeros(n), np.arange(low, part.stop), np.arange(low + 1, part.stop + 1), [],
            )  # fmt: skip
            vector.extend(ready, whole=part.stop == count)
        return made

    return times


class _Job:
    """Writes a job file of a given size."""

    def __init__(self, limit: float, *, relative: bool, comments: bool) -> None:
        self.lines: list[str] = []
        self.limit, self.size = limit, 0
        self.relative, self.comments = relative, comments
        self.x = self.y = self.z = self.e = 0.0
        self.feed: float | None = None
        self.put(
            "M140 S60",
            "M104 S210",
            "M190 S60",
            "M109 S210",
            "G21",
            "G90",
            "M83" if relative else "M82",
            "G28",
            "G92 E0",
        )

    @property
    def full(self) -> bool:
        return self.size >= self.limit

    def put(self, *lines: str) -> None:
        for line in lines:
            self.lines.append(line + "\n")
            self.size += len(line) + 1

    def say(self, text: str) -> None:
        if self.comments:
            self.put("; " + text)

    def at(self, feed: float) -> str:
        if feed == self.feed:
            return ""
        self.feed = feed
        return f" F{feed:g}"

    def rise(self, z: float | None) -> str:
        if z is None:
            return ""
        self.z = z
        return f" Z{z:.3f}"

    def go(self, x: float, y: float, feed: float = 9000, z: float | None = None) -> None:
        self.put(f"G0{self.at(feed)} X{x:.3f} Y{y:.3f}" + self.rise(z))
        self.x, self.y = x, y

    def line(self, x: float, y: float, feed: float = 2400, z: float | None = None) -> None:
        more = math.hypot(x - self.x, y - self.y) * 0.45 * 0.2 / (math.pi * 1.75**2 / 4)
        self.e += more
        start = "G1" + self.at(feed) + f" X{x:.3f} Y{y:.3f}" + self.rise(z)
        self.x, self.y = x, y
        self.put(start + f" E{(more if self.relative else self.e):.5f}")

    def filament(self, more: float) -> None:
        self.e += more
        self.put("G1" + self.at(2100) + f" E{(more if self.relative else self.e):.5f}")

    def hop(self, x: float, y: float) -> None:
        self.filament(-0.8)
        self.go(x, y)
        self.filament(0.8)

    def circle(self, cx: float, cy: float, r: float, feed: float, chord: float = 0.2) -> None:
        count = max(8, int(math.tau * r / chord))
        for n in range(1, count + 1):
            turn = math.tau * n / count
            self.line(cx + r * math.cos(turn), cy + r * math.sin(turn), feed)

    def layer(self, z: float, side: float, *, diagonal: bool) -> None:
        x0, x1 = 100 - side / 2, 100 + side / 2
        for w in (0.0, 0.45):
            self.filament(-0.8)
            self.go(x0 + w, x0 + w, z=z)
            self.filament(0.8)
            feed = 1800 if w else 1500
            for x, y in ((x1 - w, x0 + w), (x1 - w, x1 - w), (x0 + w, x1 - w), (x0 + w, x0 + w)):
                self.line(x, y, feed)
        for n in range(int((side - 2) / 2.5)):
            across = x0 + 1 + n * 2.5
            low, high = (x0 + 1, x1 - 1) if n % 2 else (x1 - 1, x0 + 1)
            first, last = ((across, low), (across, high)) if diagonal else ((low, across), (high, across))
            if n:
                self.line(*first, 3600)
            else:
                self.hop(*first)
            self.line(*last, 3600)
            if self.full:
                return


def _vase(job: _Job, chance: random.Random) -> None:
    z, turn = 0.2, 0.0
    job.go(130, 100, z=z)
    while not job.full:
        r = 30 + 6 * math.sin(z / 9)
        turn += 0.6 / r
        z += 0.2 * 0.6 / r / math.tau
        wob = r + 0.8 * math.sin(7 * turn)
        job.line(100 + wob * math.cos(turn), 100 + wob * math.sin(turn), 2400, z)


def _lattice(job: _Job, chance: random.Random) -> None:
    layer = 0
    while not job.full:
        job.layer(0.2 * (layer + 1), 60, diagonal=layer % 2 == 1)
        layer += 1


def _arcs(job: _Job, chance: random.Random) -> None:
    z = 0.2
    while not job.full:
        for gx in range(5):
            for gy in range(5):
                r = 1.5 + 2.5 * chance.random()
                cx, cy = 60 + 18 * gx, 60 + 18 * gy
                job.filament(-0.8)
                job.go(cx + r, cy, z=z)
                job.filament(0.8)
                job.circle(cx, cy, r, 2700)
                if job.full:
                    return
        z += 0.2


def _mixed(job: _Job, chance: random.Random) -> None:
    z, layer = 0.2, 0
    while not job.full:
        job.say(f"layer {layer}, z = {z:.2f}")
        if layer == 2:
            job.put("M106 S255")
        if layer and layer % 25 == 0:
            job.put("G92 E0", "G4 P500", "M104 S205", "")
            job.e = 0.0
        job.say("walls and infill")
        job.layer(z, 40, diagonal=layer % 2 == 0)
        job.say("small circles")
        for _ in range(4):
            r = 1.5 + 4 * chance.random()
            cx, cy = 140 + 10 * chance.random(), 80 + 40 * chance.random()
            job.hop(cx + r, cy)
            job.circle(cx, cy, r, 2700, 0.3)
        z, layer = z + 0.2, layer + 1


def _uneven(job: _Job, chance: random.Random) -> None:
    """Long slow lines for the first fifth of the bytes, tiny chords after: the share of bytes is not the share of time."""
    limit, job.limit = job.limit, job.limit / 5
    _lattice(job, chance)
    job.limit = limit
    _arcs(job, chance)


SHAPES = {"vase": _vase, "lattice": _lattice, "arcs": _arcs, "mixed": _mixed, "uneven": _uneven}


def job_of(name: str, megabytes: float) -> bytes:
    """A job file of a named shape and about so many MB; the same arguments give the same bytes."""
    job = _Job(megabytes * 1e6, relative=name != "lattice", comments=name == "mixed")
    SHAPES[name](job, random.Random(1))
    job.put("M104 S0", "M140 S0", "M107", "G0 X0 Y200 F6000", "M84")
    return "".join(job.lines).encode()


@pytest.fixture(scope="session")
def shape() -> Callable[[str, float], bytes]:
    """See `job_of`."""
    return job_of
