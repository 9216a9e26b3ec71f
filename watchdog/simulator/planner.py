"""The queue of moves: trapezoids, speeds at the corners, look-ahead.

    t = (v−v0)/a + (L−da−dd)/v + (v−v1)/a     when the cruise speed is reached
    t = (2 vp − v0 − v1)/a                    when not, vp = √((2aL + v0² + v1²)/2)

Corner speed from a junction deviation δ: v² = a δ s/(1−s), s = sin(θ/2) of the angle between the moves (S. K. Jeon, 2011).
The newest move must be able to stop; a move that runs is frozen.
"""

from math import inf, sqrt

Direction = tuple[float, float, float, float]
"""unit vector over X, Y, Z, E"""


class Block:
    """One move in the queue. Lengths mm, speeds mm/s, accelerations mm/s²."""

    __slots__ = ("acceleration", "begins", "ends", "entry", "filament", "goal", "length", "limit", "nominal")

    def __init__(
        self,
        length: float,
        nominal: float,
        acceleration: float,
        begins: Direction,
        ends: Direction,
        filament: float = 0.0,
        goal: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0),
    ) -> None:
        self.length = length
        self.nominal = nominal
        self.acceleration = acceleration
        self.begins = begins
        self.ends = ends
        self.filament = filament
        self.goal = goal
        self.limit = 0.0
        """highest entry speed that the corner before allows"""
        self.entry = 0.0


def duration(length: float, entry: float, leave: float, cruise: float, acceleration: float) -> float:
    """s for one trapezoid. `leave` must be reachable from `entry`."""
    ramps = (2 * cruise * cruise - entry * entry - leave * leave) / (2 * acceleration)
    if ramps <= length:
        return (2 * cruise - entry - leave) / acceleration + (length - ramps) / cruise
    peak = sqrt((2 * acceleration * length + entry * entry + leave * leave) / 2)
    return (2 * peak - entry - leave) / acceleration


def corner(before: Direction, after: Direction, acceleration: float, deviation: float) -> float:
    """mm/s at which the corner between two directions may be taken."""
    cosine = -(before[0] * after[0] + before[1] * after[1] + before[2] * after[2] + before[3] * after[3])
    if cosine > 0.999999:
        return 0.0
    if cosine < -0.999999:
        return inf
    s = sqrt((1 - cosine) / 2)
    return sqrt(acceleration * deviation * s / (1 - s))


class Planner:
    """Up to `size` moves; the first of them runs until `end`."""

    def __init__(self, size: int = 16, deviation: float = 0.02) -> None:
        self.size = size
        self.deviation = deviation
        self.queue: list[Block] = []
        self.end = inf
        """when the running move ends; inf when none runs"""
        self.took = 0.0
        """s that the running move takes from its start to its end"""
        self.fed = 0.0
        """mm of filament in all moves that have ended, forward and back"""

    @property
    def full(self) -> bool:
        """No room for another move."""
        return len(self.queue) >= self.size

    def add(self, block: Block) -> None:
        """Append a move and plan the speeds again."""
        queue = self.queue
        running = self.end != inf
        if queue and not (running and len(queue) == 1):
            last = queue[-1]
            block.limit = min(
                block.nominal, last.nominal, corner(last.ends, block.begins, block.acceleration, self.deviation)
            )
        queue.append(block)
        first = 2 if running else 1  # entries before it are frozen
        leave = 0.0
        at = len(queue) - 1
        while at >= first:
            here = queue[at]
            entry = min(here.limit, sqrt(leave * leave + 2 * here.acceleration * here.length))
            if entry == here.entry and at < len(queue) - 1:
                break
            here.entry = leave = entry
            at -= 1
        for following in range(max(at + 1, first), len(queue)):
            before, here = queue[following - 1], queue[following]
            reach = sqrt(before.entry * before.entry + 2 * before.acceleration * before.length)
            if here.entry > reach:
                here.entry = reach

    def begin(self, now: float) -> None:
        """Start the first move unless one runs already."""
        if self.end == inf and self.queue:
            block = self.queue[0]
            leave = self.queue[1].entry if len(self.queue) > 1 else 0.0
            self.took = duration(block.length, block.entry, leave, block.nominal, block.acceleration)
            self.end = now + self.took

    def finish(self) -> None:
        """The running move has ended: the next one starts at that instant."""
        at, self.end = self.end, inf
        self.fed += abs(self.queue.pop(0).filament)
        self.begin(at)

    def clear(self) -> None:
        """Drop every move, the running one included."""
        self.queue.clear()
        self.end = inf

    def flow(self) -> float:
        """mm of filament a second that the running move feeds."""
        if self.end == inf or self.took <= 0:
            return 0.0
        return max(0.0, self.queue[0].filament) / self.took

    def fed_by(self, now: float) -> float:
        """`fed`, with the part of the running move that is done (as if its speed were even)."""
        if self.end == inf or self.took <= 0:
            return self.fed
        return self.fed + abs(self.queue[0].filament) * min(1.0, 1.0 - (self.end - now) / self.took)
