"""G2 and G3: an arc → the pieces that a controller cuts it into.

    G2 X30 Y10 I10 J0     clockwise; I, J = centre minus start, also under G90
    G3 X30 Y10 R12        counter-clockwise; R < 0 = the longer way round
    start = end with I, J = a full circle; Z makes a helix

Source: RS-274 (NISTIR 6556); RepRap community wiki, page "G-code". Pieces are chords for their directions, but as long as
their part of the arc: on a finely cut arc the difference is below a ten-thousandth.
"""

from math import atan2, ceil, cos, hypot, pi, sin, sqrt

FEWEST = 16
"""pieces in a full circle, however small; common practice, no source"""
MOST = 20_000
"""pieces in one arc: a bound for nonsense"""


def centre_by_radius(x: float, y: float, radius: float, *, clockwise: bool) -> tuple[float, float] | None:
    """Centre minus start of an arc that leads over (x, y); None when the radius is too small or there is no way to go."""
    chord = hypot(x, y)
    if chord == 0 or not abs(radius) >= chord / 2 * (1 - 1e-9):
        return None
    height = sqrt(max(0.0, radius * radius - chord * chord / 4))
    if clockwise == (radius > 0):
        height = -height
    return x / 2 - y / chord * height, y / 2 + x / chord * height


def pieces(
    x: float, y: float, i: float, j: float, *, clockwise: bool, chord: float, turns: int = 0
) -> tuple[float, list[tuple[float, float]]] | None:
    """Radius, and the way of each piece (mm in X and Y), from the start over (x, y); None when it is no arc."""
    radius = hypot(i, j)
    if not 1e-6 < radius < 1e6 or not hypot(x, y) < 1e6:
        return None
    start = atan2(-j, -i)
    angle = (atan2(y - j, x - i) - start) % (2 * pi)
    if clockwise:
        angle -= 2 * pi
    if hypot(x, y) < 1e-9 or abs(angle) < 1e-9:
        angle = -2 * pi if clockwise else 2 * pi
    angle += (-2 * pi if clockwise else 2 * pi) * turns
    count = min(MOST, max(1, ceil(radius * abs(angle) / chord - 1e-9), ceil(abs(angle) * FEWEST / (2 * pi) - 1e-9)))
    step = angle / count
    length = radius * abs(step)
    side = 1.0 if step > 0 else -1.0
    first = start + step / 2 + side * pi / 2  # direction of the first chord
    return radius, [(length * cos(first + n * step), length * sin(first + n * step)) for n in range(count)]
