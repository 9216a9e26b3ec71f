"""Small job files made on the spot; the same arguments give the same bytes.

A part is a stack of rectangular layers: two walls and straight infill that turns by 90° from layer to layer, with retracted
travels, a fan that comes on with the second layer, and head and end like a real file's.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

LAYER = 0.2
"""mm"""
LINE = 0.45
"""mm, width of one line"""
FILAMENT_PER_MM = LAYER * LINE / 2.405282
"""mm of 1.75 mm filament a mm of path"""


class _Pen:
    """Writes moves, and leaves out a speed that is the same as before."""

    def __init__(self, lines: list[str]) -> None:
        self.lines = lines
        self.x = self.y = 0.0
        self.feed = 0

    def _feed(self, feed: int) -> str:
        if feed == self.feed:
            return ""
        self.feed = feed
        return f" F{feed}"

    def go(self, x: float, y: float) -> None:
        """Travel with the filament drawn back."""
        self.lines += [f"G1 E-0.800{self._feed(2400)}", f"G0 X{x:.3f} Y{y:.3f}{self._feed(7200)}"]
        self.lines.append(f"G1 E0.800{self._feed(2400)}")
        self.x, self.y = x, y

    def draw(self, x: float, y: float, feed: int) -> None:
        """Lay a straight line of plastic."""
        length = ((x - self.x) ** 2 + (y - self.y) ** 2) ** 0.5
        self.lines.append(f"G1 X{x:.3f} Y{y:.3f} E{length * FILAMENT_PER_MM:.5f}{self._feed(feed)}")
        self.x, self.y = x, y


def make_job(
    *,
    layers: int,
    width: float,
    depth: float,
    spacing: float = 2.0,
    speed: int = 2400,
    nozzle: int = 205,
    bed: int = 60,
    probe: bool = False,
    cools: bool = True,
    change_at: int | None = None,
    dwell: float = 0.0,
    pieces: int = 1,
    trailing: int = 0,
    seconds: int | None = None,
) -> bytes:
    """A job file.

    `width`, `depth`, `spacing` of the infill in mm, `speed` in mm/min, heats in °C. `cools` False leaves the heat on at the
    end; `change_at` asks for other filament before that layer; `dwell` s of rest before the middle layer (G4);
    each line of infill comes in so many `pieces`; `trailing` bytes of settings as comments follow the last order;
    `seconds` is told as the expected time, in the head and as percentages.
    """
    lines = [] if seconds is None else [f";TIME:{seconds}"]
    lines += [f"M140 S{bed}", f"M104 S{nozzle}", f"M190 S{bed}", f"M109 S{nozzle}", "G21", "G90", "M83", "G28"]
    lines += ["G29"] if probe else []
    lines += ["G92 E0", "M107"]
    pen = _Pen(lines)
    left, front = 110 - width / 2, 110 - depth / 2
    right, back = left + width, front + depth
    for layer in range(layers):
        if seconds is not None:
            lines.append(f"M73 P{100 * layer // layers} R{seconds * (layers - layer) // layers // 60}")
        lines.append(f"; layer {layer}")
        if layer == change_at:
            lines.append("M600")
        if dwell and layer == layers // 2:
            lines.append(f"G4 S{dwell:.0f}")
        lines.append(f"G0 Z{LAYER * (layer + 1):.3f}{pen._feed(600)}")
        if layer == 1:
            lines.append("M106 S255")
        pace = speed if layer else speed // 2
        for inset in (0.0, LINE):
            pen.go(left + inset, front + inset)
            for x, y in ((right - inset, front + inset), (right - inset, back - inset), (left + inset, back - inset)):
                pen.draw(x, y, pace)
            pen.draw(left + inset, front + inset, pace)
        edge = 2 * LINE
        along, across = (left, right), (front, back)
        if layer % 2:
            along, across = across, along
        pen.go(left + edge, front + edge)
        at, forth = across[0] + edge, True
        while at <= across[1] - edge:
            for end in ((along[0] + edge, along[1] - edge), (along[1] - edge, along[0] + edge))[not forth]:
                x, y = (at, end) if layer % 2 else (end, at)
                if (x, y) != (pen.x, pen.y):
                    x0, y0 = pen.x, pen.y
                    for piece in range(1, pieces + 1):
                        pen.draw(x0 + (x - x0) * piece / pieces, y0 + (y - y0) * piece / pieces, pace)
            at, forth = at + spacing, not forth
    lines += ["G1 E-2.000 F2400", f"G0 Z{LAYER * layers + 10:.3f} F600"]
    lines += ["M104 S0", "M140 S0"] if cools else []
    lines += ["M107", "G0 X0 Y200 F6000", "M84"]
    text = "\n".join(lines) + "\n"
    setting = 0
    tail = ""
    while len(tail) < trailing:
        tail += f"; setting_{setting} = {setting * 37 % 1000}\n"
        setting += 1
    return (text + tail).encode()


def cleat_hook(*, cools: bool = True) -> bytes:
    """About 38 minutes with heating and homing."""
    return make_job(layers=60, width=52, depth=24, spacing=1.2, trailing=32_000, seconds=38 * 60, cools=cools)


def oar_collar(*, cools: bool = True) -> bytes:
    """About 22 minutes."""
    return make_job(layers=52, width=36, depth=24, spacing=1.5, seconds=22 * 60, cools=cools)


def thumb_ring(*, cools: bool = True) -> bytes:
    """About 6 minutes, for a demonstration."""
    return make_job(layers=15, width=24, depth=16, spacing=2.0, seconds=6 * 60, cools=cools)


SAMPLES: Mapping[str, Callable[[], bytes]] = MappingProxyType(
    {"cleat-hook.gcode": cleat_hook, "oar-collar.gcode": oar_collar, "thumb-ring.gcode": thumb_ring}
)
"""the sample jobs by their file names"""
