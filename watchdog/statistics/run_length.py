"""How many values a CUSUM chart of normal values takes on average until it alarms (average run length, ARL).

One side: the integral equation
    L(s) = 1 + L(0) Φ(k - s - δ) + ∫₀ʰ φ(y + k - s - δ) L(y) dy
at Gauss-Legendre nodes (Nyström). Two sides: 1/ARL = 1/U + 1/D, with head start s on both
    ARL = (Uₛ D + Dₛ U - U D)/(U + D)
Source: Lucas & Crosier, Technometrics 24 (1982), whose Table 1 the tests repeat. k, h, s and the shift δ in standard
deviations. Good to about 1e-9 relative for run lengths up to 1e6 and h up to about 15.
"""

from functools import lru_cache
from math import ceil, cos, exp, pi, sqrt

from watchdog.statistics.chain import mean_steps
from watchdog.statistics.quantiles import normal_chance


def one_sided(reference: float, limit: float, shift: float = 0.0, start: float = 0.0) -> float:
    """Average run length of an upper chart that starts at `start`."""
    if not (limit > 0 and 0 <= start <= limit):
        raise ValueError("a chart needs a limit above 0 and a start between 0 and the limit")
    nodes, weights = _nodes(20 + 4 * ceil(limit))
    places = [0.0] + [limit * (1 + node) / 2 for node in nodes]
    shares = [limit * weight / 2 for weight in weights]

    def onward(at: float) -> list[float]:
        down = reference - at - shift
        return [
            normal_chance(down),
            *(share * _density(place + down) for place, share in zip(places[1:], shares, strict=True)),
        ]

    lengths = mean_steps([dict(enumerate(onward(place))) for place in places])
    if start == 0:
        return lengths[0]
    return 1 + sum(chance * length for chance, length in zip(onward(start), lengths, strict=True))


def two_sided(reference: float, limit: float, shift: float = 0.0, start: float = 0.0) -> float:
    """Average run length of two charts, up and down, each started at `start`."""
    up, down = (one_sided(reference, limit, towards) for towards in (shift, -shift))
    if start == 0:
        return up * down / (up + down)
    up_start, down_start = (one_sided(reference, limit, towards, start) for towards in (shift, -shift))
    return (up_start * down + down_start * up - up * down) / (up + down)


def siegmund(reference: float, limit: float, shift: float = 0.0) -> float:
    """Siegmund's quick approximation of the one-sided run length; some per cent low beyond 1.5 standard deviations."""
    drift, reach = shift - reference, limit + 1.166
    if drift == 0:
        return reach * reach
    return (exp(-2 * drift * reach) + 2 * drift * reach - 1) / (2 * drift * drift)


def limit_for(run_length: float, reference: float, *, both_sides: bool = False) -> float:
    """The limit h whose chart runs so many healthy values on average until a false alarm."""
    length = two_sided if both_sides else one_sided
    low, high = 0.0, 1.0
    while length(reference, high) < run_length:
        low, high = high, 2 * high
        if high > 64:
            raise ValueError("no limit up to 64 standard deviations runs that long")
    while high - low > 1e-9 * high:
        middle = (low + high) / 2
        low, high = (middle, high) if length(reference, middle) < run_length else (low, middle)
    return high


def _density(z: float) -> float:
    return exp(-z * z / 2) / sqrt(2 * pi)


@lru_cache(maxsize=32)
def _nodes(count: int) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Gauss-Legendre nodes in (-1, 1) and their weights, by Newton steps on the Legendre polynomial."""
    nodes, weights = [], []
    for nth in range(1, count + 1):
        x = cos(pi * (nth - 0.25) / (count + 0.5))
        slope = 1.0
        for _ in range(100):
            before, value = 1.0, x
            for degree in range(2, count + 1):
                before, value = value, ((2 * degree - 1) * x * value - (degree - 1) * before) / degree
            slope = count * (x * value - before) / (x * x - 1)
            move = value / slope
            x -= move
            if abs(move) < 1e-15:
                break
        nodes.append(x)
        weights.append(2 / ((1 - x * x) * slope * slope))
    return tuple(nodes), tuple(weights)
