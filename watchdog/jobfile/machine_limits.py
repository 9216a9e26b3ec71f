"""What one machine can do, as far as the duration of a job depends on it.

The shell fills this from the settings, the machine's own stored settings (`from_settings_lines`) override them, and
commands inside a job file (M201 and the like) act on a copy while that file is planned.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from math import exp, inf, log

from watchdog.core.observations import Setting

Axes = tuple[float, float, float, float]
"""X, Y, Z, E"""


@dataclass(frozen=True, slots=True)
class HeatUp:
    """A heater as a first-order system: it nears `plateau` with the time constant `tau`.

    First order is the published best structure for a hot end (Applied Sciences 15:12924, 2025). The figures differ by a
    factor of eight between machines, so this machine's own heating history should replace them.
    """

    plateau: float
    """°C that it would reach at full power"""
    tau: float
    """s"""
    settle: float = 10.0
    """s within the window before a wait ends; common practice, no source"""
    window: float = 2.0
    """°C below the target at which settling begins; common practice, no source"""
    room: float = 25.0
    """°C where it starts and ends"""
    longest: float = 1800.0
    """s: the answer for a target that it cannot reach"""

    def warming(self, start: float, target: float) -> float:
        """s from `start` (°C) to within the window of `target`."""
        goal = target - self.window
        if start >= goal:
            return 0.0
        if goal >= self.plateau:
            return self.longest
        return min(self.longest, self.tau * log((self.plateau - start) / (self.plateau - goal)))

    def cooling(self, start: float, target: float) -> float:
        """s to fall from `start` (°C) to within the window of `target`."""
        goal = target + self.window
        if start <= goal:
            return 0.0
        if goal <= self.room:
            return self.longest
        return min(self.longest, self.tau * log((start - self.room) / (goal - self.room)))

    def after(self, start: float, target: float, seconds: float) -> float:
        """°C after `seconds` under a target."""
        if start < target:
            return min(target, self.plateau - (self.plateau - start) * exp(-seconds / self.tau))
        fallen = self.room + (start - self.room) * exp(-seconds / self.tau)
        return max(target, min(start, fallen))


@dataclass(frozen=True, slots=True)
class MachineLimits:
    """Lengths mm, speeds mm/s, accelerations mm/s², times s.

    Unless another reason stands beside it, a default is common practice for a small machine, no source.
    """

    speed: Axes = (200.0, 200.0, 12.0, 120.0)
    """highest speed of each axis (M203)"""
    acceleration: Axes = (3000.0, 3000.0, 200.0, 8000.0)
    """highest acceleration of each axis (M201)"""
    printing: float = 1250.0
    """acceleration of a move that feeds filament (M204 P)"""
    travelling: float = 1250.0
    """of a move that feeds none (M204 T)"""
    retracting: float = 1250.0
    """of a move of the filament alone (M204 R)"""
    deviation: float | None = 0.02
    """junction deviation (M205 J; S. K. Jeon, 2011); None = the classic limit below"""
    jerk: Axes = (8.0, 8.0, 0.4, 5.0)
    """classic limit: speed that each axis may change at once (M205 X Y Z E)"""
    short_arcs: bool = False
    """also bound corners between segments under 1 mm by the arc that they seem to follow"""
    filament_alone_rests: bool = False
    """the machine comes to rest before and behind a move of the filament alone, instead of taking it as a corner of 90°"""
    corner_counts_filament: bool = False
    """the filament is one of the axes of which a corner is made"""
    blocks: int = 16
    """moves that the planner holds, the running one included"""
    waiting_lines: int = 0
    """further lines that wait to be planned: the reader is ahead of the nozzle by these too. Differs by build (4 and
    16 have been met)"""
    segment_seconds: float = 0.020
    """a move shorter than this is stretched while the planner runs empty (M205 B)"""
    commands_per_second: float | None = None
    """the most that card or line deliver; None = never the bottleneck"""
    volumetric: float | None = None
    """mm³/s of plastic that the nozzle melts; None = no limit"""
    filament_diameter: float = 1.75
    arc_chord: float = 1.0
    """arcs are cut into pieces no longer than this"""
    feed: float = 25.0
    """speed before the first F word"""
    retract_length: float = 1.0
    """G10 without M207"""
    retract_speed: float = 35.0
    homing: float = 30.0
    """s for all axes. Learn it from history"""
    probing: float = 90.0
    """s. Learn it from history"""
    tool_change: float = 20.0
    """s. Learn it from history"""
    nozzle: HeatUp = HeatUp(plateau=519.0, tau=162.5)
    """40 W into 0.081 W/K, 13.2 J/K; a measured hot end of the 50 W class"""
    bed: HeatUp = HeatUp(plateau=130.0, tau=600.0)
    chamber: HeatUp = HeatUp(plateau=80.0, tau=1200.0)

    def __post_init__(self) -> None:
        """ValueError for limits that no machine has: they would stop the planning for ever."""
        positive = (*self.speed, *self.acceleration, self.printing, self.travelling, self.retracting, self.feed)
        if not all(0 < value < inf for value in (*positive, self.arc_chord, self.filament_diameter)):
            raise ValueError("every speed, acceleration and length of a machine must be above 0 and finite")
        if self.deviation is not None and not 0 <= self.deviation < inf:
            raise ValueError("junction deviation must be 0 or more, in mm")
        if not all(0 <= value < inf for value in self.jerk) or self.blocks < 2 or self.waiting_lines < 0:
            raise ValueError("jerk must be 0 or more, and a planner holds at least 2 moves")
        if self.commands_per_second is not None and not self.commands_per_second > 0:
            raise ValueError("commands per second must be above 0")
        if self.volumetric is not None and not self.volumetric > 0:
            raise ValueError("the volumetric limit must be above 0")


def from_settings_lines(limits: MachineLimits, lines: Iterable[Setting]) -> MachineLimits:
    """`limits` with what the machine itself listed (M201, M203, M204, M205; mm and s). Values it cannot mean are left.

    A machine that lists X and Y jerk but no junction deviation runs the classic limit.
    """
    for line in lines:
        words = dict(line.values)
        limits = obeyed(limits, line.code, words)
        if line.code == "M205" and words.get("J", 0.0) > 0:
            limits = replace(limits, deviation=words["J"])
        elif line.code == "M205" and {"X", "Y"} & words.keys():
            limits = replace(limits, deviation=None)
    return limits


def obeyed(limits: MachineLimits, code: str, words: Mapping[str, float]) -> MachineLimits:
    """`limits` after one command that sets some of them. Values below a thousandth, and other commands, change nothing."""
    good = {letter: value for letter, value in words.items() if 1e-3 <= value < 1e7}
    if code in ("M201", "M204"):
        good = {letter: value for letter, value in good.items() if value >= 1}
    if code == "M201":
        return replace(limits, acceleration=_axes(limits.acceleration, good))
    if code == "M203":
        return replace(limits, speed=_axes(limits.speed, good))
    if code == "M204":
        both = good.get("S")  # the older form: printing and travelling
        return replace(
            limits,
            printing=good.get("P", both or limits.printing),
            travelling=good.get("T", both or limits.travelling),
            retracting=good.get("R", limits.retracting),
        )
    if code == "M205":
        deviation = good.get("J", limits.deviation) if limits.deviation is not None else None
        segment = good["B"] / 1e6 if "B" in good else limits.segment_seconds
        return replace(limits, jerk=_axes(limits.jerk, good), deviation=deviation, segment_seconds=segment)
    if code == "M566":  # the same in mm/min
        return replace(limits, jerk=_axes(limits.jerk, {letter: value / 60 for letter, value in good.items()}))
    return limits


def _axes(now: Axes, words: dict[str, float]) -> Axes:
    x, y, z, e = now
    return words.get("X", x), words.get("Y", y), words.get("Z", z), words.get("E", e)
