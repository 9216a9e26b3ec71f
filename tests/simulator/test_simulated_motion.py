"""Moves and their times, against trapezoids computed by hand."""

from math import inf, pi, sqrt

import pytest

from watchdog.simulator.gcode import checksum, read_order
from watchdog.simulator.machine import Options, SimulatedMachine
from watchdog.simulator.motion import Motion
from watchdog.simulator.planner import Block, Planner, corner, duration

EAST = (1.0, 0.0, 0.0, 0.0)
NORTH = (0.0, 1.0, 0.0, 0.0)


def slanted(degrees: float) -> tuple[float, float, float, float]:
    from math import cos, radians, sin

    return (cos(radians(degrees)), sin(radians(degrees)), 0.0, 0.0)


@pytest.mark.parametrize(
    ("length", "cruise", "acceleration", "entry", "leave", "seconds"),
    [
        (60, 90, 1500, 0, 0, 0.726667),
        (48, 120, 2500, 20, 35, 0.428708),
        (4.2, 80, 900, 0, 0, 0.136626),
        (1.5, 100, 1200, 12, 5, 0.0581847),
        (0.8, 35, 1200, 0, 0, 0.0516398),
    ],
)
def test_one_move_takes_its_trapezoid(
    length: float, cruise: float, acceleration: float, entry: float, leave: float, seconds: float
) -> None:
    assert duration(length, entry, leave, cruise, acceleration) == pytest.approx(seconds, rel=1e-5)


@pytest.mark.parametrize(
    ("turn", "acceleration", "deviation", "speed"),
    [(90, 1250, 0.02, 7.76887), (45, 1250, 0.02, 17.4191), (135, 1250, 0.02, 3.93673), (90, 3000, 0.013, 9.70332)],
)
def test_a_corner_is_taken_at_the_speed_that_its_deviation_allows(
    turn: float, acceleration: float, deviation: float, speed: float
) -> None:
    assert corner(EAST, slanted(turn), acceleration, deviation) == pytest.approx(speed, rel=1e-5)


def test_straight_on_has_no_limit_and_a_reversal_stops() -> None:
    assert corner(EAST, EAST, 1250, 0.02) == inf
    assert corner(EAST, (-1.0, 0.0, 0.0, 0.0), 1250, 0.02) == 0.0


def run_blocks(*blocks: Block) -> float:
    planner = Planner()
    for block in blocks:
        planner.add(block)
    planner.begin(0.0)
    last = 0.0
    while planner.end < inf:
        last = planner.end
        planner.finish()
    return last


def test_an_l_of_two_moves_slows_at_its_corner() -> None:
    """30 mm + 30 mm at 100 mm/s, a 1250, δ 0.02: 0.748053 s; a full stop at the corner would make 0.76."""
    total = run_blocks(Block(30, 100, 1250, EAST, EAST), Block(30, 100, 1250, NORTH, NORTH))
    assert total == pytest.approx(0.748053, rel=1e-5)


def test_a_zigzag_and_a_tiny_last_move_are_planned_ahead() -> None:
    moves = [Block(10, 60, 1250, each, each) for each in (EAST, NORTH, EAST)]
    assert run_blocks(*moves) == pytest.approx(0.620749, rel=1e-5)
    assert run_blocks(Block(20, 50, 1000, EAST, EAST), Block(0.05, 50, 1000, EAST, EAST)) == pytest.approx(
        0.451, rel=1e-4
    )


def test_a_move_that_comes_while_the_only_one_runs_starts_from_rest() -> None:
    """What runs is frozen: it had been planned to stop."""
    planner = Planner()
    planner.add(Block(30, 100, 1250, EAST, EAST))
    planner.begin(0.0)
    alone = planner.end
    planner.add(Block(30, 100, 1250, EAST, EAST))
    assert planner.end == alone == pytest.approx(duration(30, 0, 0, 100, 1250))
    planner.finish()
    assert planner.end == pytest.approx(2 * alone)


def prepared(*lines: str) -> Motion:
    motion = Motion(Planner())
    for line in lines:
        order = read_order(line)
        assert order is not None
        block = motion.line(order, extrude=True)
        if block is not None:
            motion.planner.add(block)
    return motion


def test_a_slow_axis_slows_the_whole_move() -> None:
    """X 10 Z 3 at F3000 with Z at most 8 mm/s and 100 mm/s²: 27.8408 mm/s, 348.010 mm/s²."""
    motion = Motion(Planner())
    motion.axes.speed[2] = 8.0
    motion.axes.acceleration[2] = 100.0
    motion.axes.travelling = 1500.0
    order = read_order("G1 X10 Z3 F3000")
    assert order is not None
    block = motion.line(order, extrude=True)
    assert block is not None
    assert (block.length, block.nominal, block.acceleration) == pytest.approx((10.4403, 27.8408, 348.010), rel=1e-5)


def test_absolute_relative_and_inches_lead_to_the_same_place() -> None:
    machine = SimulatedMachine(Options())
    machine.advance(2.0)
    for line in ("G91", "G0 X10 F6000", "G0 X10", "G90", "G20", "G0 Y2", "G21", "G92 X5", "G0 X7"):
        machine.receive(line.encode() + b"\n")
    machine.advance(10.0)
    machine.receive(b"M114\n")
    assert b"X:7.00 Y:50.80 Z:0.00 E:0.00 Count X:560 Y:4064 Z:0" in machine.take()


def test_a_quarter_arc_takes_its_length() -> None:
    """Radius 20: 31.4159 mm; √(a r) = 158 mm/s is no limit at 50 mm/s."""
    motion = prepared("G0 X20 F3000")
    order = read_order("G3 X0 Y20 I-20 J0 F3000")
    assert order is not None
    block = motion.arc(order, clockwise=False, extrude=True)
    assert block is not None
    assert block.length == pytest.approx(20 * pi / 2)
    assert block.nominal == pytest.approx(50.0)
    assert block.begins == pytest.approx(NORTH)
    assert block.ends == pytest.approx((-1.0, 0.0, 0.0, 0.0))


def test_a_square_takes_the_hand_computed_time_from_card_to_last_move() -> None:
    """Four sides of 60 mm at 50 mm/s, three rounds, then what a person with paper and pencil gets, within 1 %.

    a = 1250 mm/s², δ = 0.02: each corner at 7.76887 mm/s. A side between two corners lasts 2(50 − 7.769)/1250 s of ramps,
    plus the rest of the 60 mm at 50 mm/s. The first starts and the last ends at rest.
    """
    sides = ["G1 X60 Y0", "G1 X60 Y60", "G1 X0 Y60", "G1 X0 Y0"] * 3
    job = "\n".join(["G90", "G1 F3000", *sides]).encode()
    machine = SimulatedMachine(Options(files=(("square.gcode", job),)))
    machine.advance(5.0)
    machine.panel.choose("square.gcode")
    machine.panel.start()
    machine.advance(100.0)
    done = [at for at, piece in machine.spoken() if b"Done printing file" in piece]
    v, a, c = 50.0, 1250.0, sqrt(1250 * 0.02 * sqrt(0.5) / (1 - sqrt(0.5)))

    def side(entry: float, leave: float) -> float:
        ramps = (2 * v * v - entry**2 - leave**2) / (2 * a)
        return (2 * v - entry - leave) / a + (60 - ramps) / v

    by_hand = side(0, c) + 10 * side(c, c) + side(c, 0)
    assert len(done) == 1
    assert done[0] - 5.0 == pytest.approx(by_hand, rel=0.01)


def test_half_the_speed_takes_twice_the_time() -> None:
    job = b"G1 F1200\n" + b"G1 X100\nG1 X0\n" * 10
    ends = []
    for percent in (100.0, 50.0):
        machine = SimulatedMachine(Options(files=(("line.gcode", job),)))
        machine.advance(5.0)
        machine.panel.speed(percent)
        machine.panel.choose("line.gcode")
        machine.panel.start()
        machine.advance(400.0)
        ends += [at - 5.0 for at, piece in machine.spoken() if b"Done" in piece]
    assert ends[1] / ends[0] == pytest.approx(2.0, rel=0.01)


@pytest.mark.parametrize(
    ("line", "sum_"),
    [(b"N17 M105", 17), (b"N2041 G1 X41.250 Y-7.5 E0.03125 F2400", 45), (b"N0 M110 N0", 125), (b"", 0)],
)
def test_the_checksum_is_the_xor_of_every_byte(line: bytes, sum_: int) -> None:
    assert checksum(line) == sum_


@pytest.mark.parametrize(
    ("line", "code", "words"),
    [
        ("G1X4Y5E.2", "G1", {"X": 4.0, "Y": 5.0, "E": 0.2}),
        ("G01 X+3. Y-.5 ; to the left", "G1", {"X": 3.0, "Y": -0.5}),
        ("M23 cup 12.gco", "M23", {}),
        ("M27 C", "M27", {"C": None}),
        ("T1", "T1", {}),
        ("rubbish", "", {}),
    ],
)
def test_orders_are_read_as_controllers_read_them(line: str, code: str, words: dict[str, float | None]) -> None:
    order = read_order(line)
    assert order is not None
    assert (order.code, order.words) == (code, words)


def test_a_comment_is_no_order() -> None:
    assert read_order("; nothing") is None
    assert read_order("   ") is None
