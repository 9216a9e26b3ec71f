"""Moves with their durations, and waits, put one after another: the clock of the planned job.

A line is read when the planner has room for its move: as the move that lies `lead` moves before it starts, or when the wait
ends that emptied the planner. The map is keyed by that, since it is what a machine's byte counter follows.
"""

from itertools import accumulate
from math import inf

from watchdog.core.plan import HeatChange, Hold
from watchdog.jobfile.fit import STEP, Fit
from watchdog.jobfile.machine_limits import HeatUp, MachineLimits
from watchdog.jobfile.rows import HeatSet, Wait
from watchdog.jobfile.rules import Faults, Rules

MOST_HOLDS = 20_000
"""holds and heat changes that are kept one by one"""


class Timeline:
    """The clock, the heaters' modelled temperatures, and what the plan is made of."""

    def __init__(self, limits: MachineLimits, rules: Rules, faults: Faults) -> None:
        self.rules = rules
        self.faults = faults
        self.fit = Fit()
        self.lead = limits.blocks + limits.waiting_lines
        self.clock = 0.0
        """s at which the last planned move or wait ends"""
        self.moving = 0.0
        self.filament = 0.0
        self.moves = 0
        self.began: list[float] = [0.0] * self.lead
        """when the last `lead` moves began"""
        self.freed = 0.0
        """end of the last wait: nothing behind it is read earlier"""
        self.read = 0.0
        """when the last line was read"""
        self.edge = 0.0
        """s at which the next point of the map is worth a look"""
        self.holds: list[Hold] = []
        self.heats: list[HeatChange] = []
        self.hot_still = 0.0
        self.models: dict[str, HeatUp] = {"nozzle": limits.nozzle, "bed": limits.bed, "chamber": limits.chamber}
        self.heat = {heater: (model.room, 0.0, 0.0) for heater, model in self.models.items()}
        """°C, target, and since when"""

    def moves_took(self, times: list[float], starts: list[int], ends: list[int], filament: list[float]) -> None:
        """The next moves, in their order: s, bytes of their lines, mm."""
        if not times:
            return
        began = [*self.began, *accumulate(times, initial=self.clock)]
        self.moving += began[-1] - self.clock
        self.clock = began.pop()
        self.moves += len(times)
        read, freed, edge, fed = self.read, self.freed, self.edge, self.filament
        at: list[int] = []
        when: list[float] = []
        by: list[float] = []
        for start, end, more, begins in zip(starts, ends, filament, began, strict=False):
            if begins < freed:
                begins = freed
            if begins >= edge:
                at += start, end
                when += read, begins
                by += fed, fed + more
                edge = (int(begins / STEP) + 1) * STEP
            fed += more
            read = begins
        self.began = began[-self.lead :]
        self.read, self.edge, self.filament = read, edge, fed
        self.fit.extend(at, when, by)

    def event(self, event: Wait | HeatSet) -> None:
        """All moves before `event` have been counted."""
        if isinstance(event, HeatSet):
            self._set(event)
            return
        read = max(self.freed, self.began[0], self.read)
        self.fit.extend((event.start, event.end), (self.read, read), (self.filament, self.filament))
        self.read = read
        seconds = self._heat_wait(event) if event.kind == "heat" else event.seconds
        if event.kind and len(self.holds) < MOST_HOLDS:
            self.holds.append(Hold(event.kind, event.end, seconds, self.clock, event.what))
        if event.kind == "person":
            self.fit.stand(event.end, inf)
        if event.kind == "dwell" and any(target > 0 for _, target, _ in self.heat.values()):
            self.hot_still += seconds
            if seconds > self.rules.still_hot:
                self.faults.add("heat-without-motion", f"heat on and {seconds:.0f} s of dwell", event.start)
        self.clock += seconds
        self.freed = self.clock

    def finish(self, size: int) -> None:
        """The file has ended."""
        self.fit.finish(size, self.clock)
        left = [heater for heater, (_, target, _) in self.heat.items() if target > 0]
        if left:
            self.faults.add("heat-left-on", f"{' and '.join(left)} still heated at the end of the file", size)

    def _now(self, heater: str) -> float:
        """°C of the heater by the model."""
        start, target, since = self.heat[heater]
        return self.models[heater].after(start, target, self.clock - since)

    def _set(self, event: HeatSet) -> None:
        heater, target = event.heater, event.target
        self.heat[heater] = (self._now(heater), target, self.clock)
        if len(self.heats) < MOST_HOLDS:
            self.heats.append(HeatChange(event.end, heater, target, self.clock))
        window = {"nozzle": self.rules.nozzle, "bed": self.rules.bed}.get(heater)
        if window is not None and target > 0 and not window[0] <= target <= window[1]:
            words = f"{heater} at {target:g} °C, outside {window[0]:g} to {window[1]:g} °C"
            self.faults.add(f"{heater}-outside-window", words, event.start)

    def _heat_wait(self, event: Wait) -> float:
        """s until the heater, or every heater, is at its target."""
        heaters = [event.heater] if event.heater is not None else list(self.heat)
        longest = 0.0
        for heater in heaters:
            target = self.heat[heater][1]
            if target <= 0:
                continue
            model, now = self.models[heater], self._now(heater)
            seconds = model.warming(now, target)
            if seconds == 0 and event.cools:
                seconds = model.cooling(now, target)
            longest = max(longest, seconds + model.settle if seconds > 0 else 0.0)
        return longest
