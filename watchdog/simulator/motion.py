"""From motion orders to moves: what is modal, and what the axes can do."""

from dataclasses import dataclass
from math import atan2, hypot, pi, sqrt

from watchdog.simulator.gcode import Order
from watchdog.simulator.planner import Block, Direction, Planner

AXES = "XYZE"


@dataclass(slots=True)
class Axes:
    """What the axes can do. Common practice for a small bed-moving machine, no source; M201–M204 change it."""

    speed: list[float]
    """mm/s for X, Y, Z, E"""
    acceleration: list[float]
    """mm/s² for X, Y, Z, E"""
    extruding: float = 1250.0
    """mm/s²"""
    retracting: float = 1250.0
    travelling: float = 1250.0
    steps: tuple[float, float, float, float] = (80.0, 80.0, 400.0, 415.0)
    """per mm"""


def usual_axes() -> Axes:
    """A machine's axes as they come."""
    return Axes([200.0, 200.0, 12.0, 120.0], [3000.0, 3000.0, 200.0, 8000.0])


class Motion:
    """Position, modes and queue."""

    def __init__(self, planner: Planner) -> None:
        self.planner = planner
        self.axes = usual_axes()
        self.place = [0.0, 0.0, 0.0, 0.0]
        """mm: where the last queued move will end"""
        self.relative = False
        self.relative_e = False
        self.scale = 1.0
        """mm a unit"""
        self.feed = 1500.0
        """mm/min"""
        self.speed_percent = 100.0
        self.flow_percent = 100.0
        self.homed = False

    def goal(self, order: Order, *, extrude: bool) -> tuple[list[float], float]:
        """Where a move order leads, and how much filament it feeds (mm)."""
        words, place = order.words, self.place
        if (feed := words.get("F")) is not None and feed > 0:
            self.feed = feed * self.scale
        goal = place[:]
        filament = 0.0
        for axis, letter in enumerate(AXES):
            value = words.get(letter)
            if value is None:
                continue
            relative = self.relative_e if axis == 3 else self.relative
            goal[axis] = place[axis] + value * self.scale if relative else value * self.scale
            if axis == 3:
                filament = (goal[3] - place[3]) * self.flow_percent / 100 if extrude else 0.0
        return goal, filament

    def line(self, order: Order, *, extrude: bool) -> Block | None:
        """G0 or G1 as a move; None when it moves nothing. `extrude` False drops its filament (too cold)."""
        goal, filament = self.goal(order, extrude=extrude)
        place = self.place
        x, y, z = goal[0] - place[0], goal[1] - place[1], goal[2] - place[2]
        self.place = goal
        length = sqrt(x * x + y * y + z * z)
        return self._move((x, y, z, filament), length or abs(filament), filament)

    def arc(self, order: Order, *, clockwise: bool, extrude: bool) -> Block | None:
        """G2 or G3 with I and J as one bent move; None without a centre."""
        i, j = order.number("I"), order.number("J")
        if i is None and j is None:
            return None
        x0, y0 = self.place[0], self.place[1]
        goal, filament = self.goal(order, extrude=extrude)
        cx, cy = x0 + (i or 0.0) * self.scale, y0 + (j or 0.0) * self.scale
        radius = hypot(x0 - cx, y0 - cy)
        turn = atan2(goal[1] - cy, goal[0] - cx) - atan2(y0 - cy, x0 - cx)
        turn = turn % (2 * pi) or 2 * pi
        if clockwise:
            turn -= 2 * pi
        rise = goal[2] - self.place[2]
        self.place = goal
        way = -1.0 if turn < 0 else 1.0
        length = hypot(abs(turn or 2 * pi) * radius, rise)
        block = self._move((length, 0.0, 0.0, filament), length, filament)
        if block is not None and radius > 0:
            block.nominal = min(block.nominal, sqrt(block.acceleration * radius))
            block.begins = (-way * (y0 - cy) / radius, way * (x0 - cx) / radius, 0.0, 0.0)
            block.ends = (-way * (goal[1] - cy) / radius, way * (goal[0] - cx) / radius, 0.0, 0.0)
            block.goal = (goal[0], goal[1], goal[2], goal[3])
        return block

    def _move(self, delta: Direction, length: float, filament: float) -> Block | None:
        """The move over `delta`, held to what every axis can do."""
        if length < 1e-6:
            return None
        axes = self.axes
        speed = self.feed / 60 * self.speed_percent / 100
        only_filament = not (delta[0] or delta[1] or delta[2])
        acceleration = axes.retracting if only_filament else axes.extruding if filament else axes.travelling
        for part, top, most in zip(delta, axes.speed, axes.acceleration, strict=True):
            share = abs(part) / length
            if share:
                if speed * share > top:
                    speed = top / share
                if acceleration * share > most:
                    acceleration = most / share
        norm = sqrt(delta[0] ** 2 + delta[1] ** 2 + delta[2] ** 2 + delta[3] ** 2)
        unit = (delta[0] / norm, delta[1] / norm, delta[2] / norm, delta[3] / norm)
        place = self.place
        return Block(length, speed, acceleration, unit, unit, filament, (place[0], place[1], place[2], place[3]))
