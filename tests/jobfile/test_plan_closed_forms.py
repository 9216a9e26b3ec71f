"""Durations that a pencil gives, and published vectors, from the text of a file to seconds, with both engines."""

from collections.abc import Callable, Sequence
from math import cos, hypot, pi, radians, sin, sqrt
from typing import Any

import pytest

from watchdog.jobfile.kinematics import (
    corner_by_deviation,
    corner_classic,
    corner_on_short_arc,
    drained,
    duration,
    start_classic,
)
from watchdog.jobfile.machine_limits import MachineLimits

Run = Callable[..., Any]
Wide = Callable[..., MachineLimits]
Timed = Callable[..., Any]

both = pytest.mark.parametrize("engine", ["plain", "vector"])
SIX = 1e-5
"""the vectors are given to six digits"""
HALF = radians(45)


def corner(turn: float, length: float = 30.0, feed: float = 6000, e: float = 0.0) -> str:
    """A move along +X, and one that turns by so many degrees."""
    fed = f" E{length * e:.6f}" if e else ""
    x, y = length * (1 + cos(radians(turn))), length * sin(radians(turn))
    return f"M83\nG1 X{length} F{feed}{fed}\nG1 X{x:.9f} Y{y:.9f}{fed}\n"


@both
def test_a_long_move_is_a_trapezoid(run: Run, wide: Wide, engine: str) -> None:
    plan = run(engine, "G1 X60 F5400\n", wide(travelling=1500)).plan
    assert plan.seconds == pytest.approx(0.726667, rel=SIX)
    assert plan.seconds == pytest.approx(60 / 90 + 90 / 1500, rel=1e-12)


def test_a_move_between_two_speeds() -> None:
    assert duration(48, 20, 35, 120, 2500) == pytest.approx(0.04 + 0.354708 + 0.034, rel=SIX)
    assert duration(1.5, 12, 5, 100, 1200) == pytest.approx(0.0581847, rel=SIX)
    reached = sqrt(6 * 6 + 2 * 500 * 0.8)
    assert reached == pytest.approx(28.9137, rel=SIX)
    assert duration(0.8, 6, reached, 100, 500) == pytest.approx(0.0458273, rel=SIX)


@both
def test_a_short_move_is_a_triangle(run: Run, wide: Wide, engine: str) -> None:
    plan = run(engine, "G1 X4.2 F4800\n", wide(travelling=900)).plan
    assert plan.seconds == pytest.approx(0.136626, rel=SIX)
    assert plan.seconds == pytest.approx(2 * sqrt(4.2 / 900), rel=1e-12)


@both
def test_filament_alone_moves_by_its_own_acceleration(run: Run, wide: Wide, engine: str) -> None:
    plan = run(engine, "M83\nG1 E-0.8 F2100\n", wide(retracting=1200, printing=10, travelling=10)).plan
    assert plan.seconds == pytest.approx(0.0516398, rel=SIX)


@both
@pytest.mark.parametrize(
    ("turn", "a", "deviation", "speed"),
    [(90, 1250, 0.02, 7.76887), (45, 1250, 0.02, 17.4191), (135, 1250, 0.02, 3.93673), (90, 3000, 0.013, 9.70332)],
)
def test_a_corner_by_junction_deviation(
    run: Run, wide: Wide, engine: str, turn: float, a: float, deviation: float, speed: float
) -> None:
    moves = run(engine, corner(turn), wide(travelling=a, deviation=deviation)).moves
    assert moves[1].entry == pytest.approx(speed, rel=SIX)
    along = (1.0, 0.0, 0.0, 0.0), (cos(radians(turn)), sin(radians(turn)), 0.0, 0.0)
    assert corner_by_deviation(*along, a, deviation) == pytest.approx(speed, rel=SIX)


@both
def test_a_weak_axis_slows_the_corner(run: Run, wide: Wide, engine: str) -> None:
    limits = wide(acceleration=(1000.0, 600.0, 1e6, 1e6), travelling=1250)
    # the second move is bound by its weak axis too, so the corner alone is looked at
    assert corner_by_deviation((1, 0, 0, 0), (0, 1, 0, 0), 1250, 0.02, limits.acceleration) == pytest.approx(
        6.40083, rel=SIX
    )
    moves = run(engine, "G1 X30 F6000\nG1 X60 Y30\n", wide(acceleration=(1000.0, 500.0, 1e6, 1e6))).moves
    turn = sqrt(2 - sqrt(2))  # |u2 − u1| at 45°
    along = min(500 * sqrt(2), 1000 * turn / (1 - sqrt(0.5)), 500 * turn / sqrt(0.5))
    s = cos(pi / 8)
    assert moves[1].entry == pytest.approx(sqrt(along * 0.02 * s / (1 - s)), rel=1e-9)


@both
def test_a_corner_may_count_the_filament(run: Run, wide: Wide, engine: str) -> None:
    moves = run(engine, corner(90, e=0.04), wide(corner_counts_filament=True)).moves
    assert moves[1].entry == pytest.approx(7.77947, rel=SIX)


@both
def test_short_segments_are_bound_by_the_arc_they_follow(run: Run, wide: Wide, engine: str) -> None:
    x, y = 100 + 0.5 * cos(radians(20)), 0.5 * sin(radians(20))
    far_x, far_y = x + 100 * cos(radians(20)), y + 100 * sin(radians(20))
    text = f"G1 X100 F6000\nG1 X{x:.12f} Y{y:.12f}\nG1 X{far_x:.12f} Y{far_y:.12f}\n"
    assert run(engine, text, wide(deviation=0.05)).moves[1].entry == pytest.approx(63.6509, rel=SIX)
    assert run(engine, text, wide(deviation=0.05, short_arcs=True)).moves[1].entry == pytest.approx(42.3142, rel=SIX)
    assert corner_on_short_arc((1, 0, 0, 0), (cos(radians(20)), sin(radians(20)), 0, 0), 0.5, 1250) == pytest.approx(
        42.3142, rel=SIX
    )


@both
@pytest.mark.parametrize(("turn", "speed"), [(90, 9.0), (45, 12.7279)])
def test_a_corner_by_the_classic_limit(run: Run, wide: Wide, engine: str, turn: float, speed: float) -> None:
    limits = wide(deviation=None, jerk=(9.0, 9.0, 9.0, 9.0))
    assert run(engine, corner(turn, feed=4800), limits).moves[1].entry == pytest.approx(speed, rel=SIX)
    along = (1.0, 0.0, 0.0, 0.0), (cos(radians(turn)), sin(radians(turn)), 0.0, 0.0)
    assert corner_classic(80, *along, limits.jerk) == pytest.approx(speed, rel=SIX)


@both
def test_the_classic_limit_starts_and_stops_with_a_jump(run: Run, wide: Wide, engine: str) -> None:
    limits = wide(deviation=None, jerk=(8.0, 8.0, 8.0, 8.0))
    (move,) = run(engine, "G1 X60 Y80 F6000\n", limits).moves
    assert move.entry == pytest.approx(10.0, rel=1e-12)
    assert move.leave == pytest.approx(10.0, rel=1e-12)
    assert start_classic(100, (0.6, 0.8, 0, 0), limits.jerk) == pytest.approx(10.0, rel=1e-12)


@both
def test_two_moves_over_a_corner(run: Run, wide: Wide, engine: str) -> None:
    plan, moves = run(engine, "G1 X30 F6000\nG1 Y30\n", wide())
    assert [move.seconds for move in moves] == pytest.approx([0.374026, 0.374026], rel=SIX)
    assert plan.seconds == pytest.approx(0.748053, rel=SIX)


@both
def test_a_zigzag(run: Run, wide: Wide, engine: str) -> None:
    plan, moves = run(engine, "G1 X10 F3600\nG1 Y10\nG1 X20\n", wide())
    assert [move.seconds for move in moves] == pytest.approx([0.208854, 0.203041, 0.208854], rel=SIX)
    assert plan.seconds == pytest.approx(0.620749, rel=SIX)


@both
def test_a_straight_line_in_two_pieces_is_one_move(run: Run, wide: Wide, engine: str) -> None:
    plan, moves = run(engine, "G1 X20 F3000\nG1 X20.05\n", wide(travelling=1000))
    assert moves[1].entry == pytest.approx(10.0, rel=1e-6)
    assert [move.seconds for move in moves] == pytest.approx([0.441, 0.01], rel=SIX)
    assert plan.seconds == pytest.approx(
        run(engine, "G1 X20.05 F3000\n", wide(travelling=1000)).plan.seconds, rel=1e-12
    )


@both
def test_a_slow_extruder_slows_the_whole_move(run: Run, wide: Wide, engine: str) -> None:
    plan = run(engine, "M83\nG1 X50 E4 F6000\n", wide(speed=(1e6, 1e6, 1e6, 5.0))).plan
    assert plan.seconds == pytest.approx(50 / 62.5 + 62.5 / 1250, rel=SIX)
    assert plan.too_fast == 1
    melted = run(engine, "M83\nG1 X50 E4 F6000\n", wide(volumetric=8.0)).plan
    speed = 3.326014 * 50 / 4  # 8 mm³/s of 1.75 mm filament
    assert melted.seconds == pytest.approx(50 / speed + speed / 1250, rel=1e-6)


@both
def test_a_slow_z_slows_the_whole_move(run: Run, wide: Wide, engine: str) -> None:
    limits = wide(speed=(1e6, 1e6, 8.0, 1e6), acceleration=(1e6, 1e6, 100.0, 1e6), travelling=1500)
    plan = run(engine, "G1 X10 Z3 F3000\n", limits).plan
    assert plan.seconds == pytest.approx(hypot(10, 3) / 27.8408 + 27.8408 / 348.010, rel=SIX)


def test_a_short_move_is_stretched_while_the_queue_drains() -> None:
    stretched = drained(0.05 / 60, 3, 16, 0.020)
    assert stretched == pytest.approx(13611.3e-6, rel=SIX)
    assert 0.05 / stretched == pytest.approx(3.67341, rel=SIX)
    assert drained(0.05 / 60, 8, 16, 0.020) == 0.05 / 60


@both
def test_a_starved_queue_makes_one_move_a_line(run: Run, wide: Wide, engine: str) -> None:
    """A card that delivers 100 lines a second makes fine curves take longer than their speed says."""
    text = "".join(f"G1 X{0.1 * n:.1f} F6000\n" for n in range(1, 501))
    plan = run(engine, text, wide(travelling=1e5, commands_per_second=100.0)).plan
    assert plan.seconds == pytest.approx(5.0, rel=1e-3)


@both
def test_an_arc_takes_its_length(run: Run, wide: Wide, engine: str) -> None:
    plan = run(engine, "G3 X-20 Y20 I-20 J0 F3000\n", wide()).plan
    assert plan.seconds - 50 / 1250 == pytest.approx(0.628319, rel=SIX)
    assert plan.seconds == pytest.approx(20 * pi / 2 / 50 + 50 / 1250, rel=1e-6)
    fast = run(engine, "G3 X-20 Y20 I-20 J0 F60000\n", wide()).plan
    speed = sqrt(1250 * 20)  # what centripetal acceleration allows
    assert fast.seconds == pytest.approx(20 * pi / 2 / speed + speed / 1250, rel=1e-6)


@both
@pytest.mark.parametrize(
    ("arc", "length"),
    [
        ("G3 X-20 Y20 R20", 10 * pi),
        ("G2 X-20 Y20 R-20", 30 * pi),
        ("G2 X-20 Y20 I-20 J0", 30 * pi),
        ("G3 I-20", 40 * pi),
        ("G3 X0 Y0 I-20 J0 Z5", hypot(40 * pi, 5)),
        ("G2 X-40 Y0 R20", 20 * pi),
        ("g03x-20y20i-20j0", 10 * pi),
    ],
)
def test_arcs_in_all_their_forms(run: Run, wide: Wide, engine: str, arc: str, length: float) -> None:
    _, moves = run(engine, f"{arc} F3000\n", wide())
    assert sum(move.length for move in moves) == pytest.approx(length, rel=1e-9)


@both
def test_a_polyline_round_a_circle(run: Run, wide: Wide, engine: str) -> None:
    """720 chords at r = 20: no corner is slow, so all of it is one trapezoid of the chords' length."""
    points = [(100 + 20 * cos(2 * pi * n / 720), 100 + 20 * sin(2 * pi * n / 720)) for n in range(721)]
    text = f"G0 X{points[0][0]:.9f} Y{points[0][1]:.9f} F6000\nG4 P0\n"
    text += "".join(f"G1 X{x:.9f} Y{y:.9f} F3000\n" for x, y in points[1:])
    plan, moves = run(engine, text, wide(deviation=0.01286))
    travel = hypot(*points[0]) / 100 + 100 / 1250
    round_ = 720 * 40 * sin(pi / 720) / 50 + 50 / 1250
    assert plan.seconds == pytest.approx(travel + round_, rel=1e-6)
    assert plan.seconds == pytest.approx(4.1953, abs=5e-5)
    assert len(moves) == 721


CORNER = 10.986841134678
"""mm/s: 90° at 1000 mm/s² and 0.05 mm"""
CHAINS: list[tuple[str, Sequence[float], Sequence[float], Sequence[float], float]] = [
    ("trapezoid", [100], [100], [0, 0], 1.1),
    ("triangle", [5], [100], [0, 0], 0.1 * sqrt(2)),
    ("corner", [50, 50], [100] * 2, [0, CORNER, 0], 1.179233425),
    ("staircase", [0.5] * 40, [100] * 40, [0, *[CORNER] * 39, 0], 1.131182701),
    (
        "backward",
        [10, 1, 1, 1, 1, 1, 1, 10],
        [100, 100, 100, 100, 100, 60, 60, 100],
        [0, 100, 100, 100, 5, 100, 60, 60, 0],
        11 / 24,
    ),
]


@both
@pytest.mark.parametrize(("name", "lengths", "speeds", "caps", "seconds"), CHAINS, ids=[chain[0] for chain in CHAINS])
def test_chains_with_given_corners(
    timed: Timed, engine: str, name: str, lengths: list[float], speeds: list[float], caps: list[float], seconds: float
) -> None:
    moves = timed(engine, lengths, speeds, caps, 1000)
    assert sum(move.seconds for move in moves) == pytest.approx(seconds, rel=1e-9)
    if name == "backward":
        expected = [0, 77.620873, 63.442888, 45, 5, 45, 60, 60]
        assert [move.entry for move in moves] == pytest.approx(expected, rel=1e-7, abs=1e-9)


def test_the_corner_of_the_chains() -> None:
    assert corner_by_deviation((1, 0, 0, 0), (0, 1, 0, 0), 1000, 0.05) == pytest.approx(CORNER, rel=1e-12)


@both
@pytest.mark.parametrize(("blocks", "seconds"), [(4, 0.835923086), (8, 0.601427596), (16, 0.534444444)])
def test_a_short_queue_slows_tiny_moves(timed: Timed, engine: str, blocks: int, seconds: float) -> None:
    """The newest of the moves in the queue must be able to stop."""
    moves = timed(engine, [0.2] * 100, [45.0] * 100, [0.0, *[45.0] * 99], 500, blocks)
    assert sum(move.seconds for move in moves) == pytest.approx(seconds, rel=1e-9)


SHAPES = [("vase", 86.9287), ("arcs", 68.1839), ("mixed", 577.1353), ("lattice", 4581.7313)]


@both
@pytest.mark.parametrize(("name", "seconds"), SHAPES)
def test_whole_files_last_as_an_independent_program_says(
    run: Run, wide: Wide, shape: Callable[[str, float], bytes], engine: str, name: str, seconds: float
) -> None:
    """The figures are those of pyGCodeDecode 1.5.1 (MIT), to the digits it was asked for.

    Its model comes to rest before and behind a move of the filament alone.
    """
    limits = MachineLimits(
        speed=(500, 500, 12, 120), acceleration=(1e6, 1e6, 1e6, 1e6), deviation=0.01286, filament_alone_rests=True,
        blocks=5000,
    )  # fmt: skip
    assert run(engine, shape(name, 0.2), limits).plan.moving == pytest.approx(seconds, abs=6e-5)
