"""Two engines, one model: whatever the file, however it is cut into pieces."""

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from watchdog.core.plan import Plan
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.rules import Rules

Run = Callable[..., Any]

MACHINES = {
    "deviation": MachineLimits(),
    "classic": MachineLimits(deviation=None),
    "short queue": MachineLimits(blocks=4, waiting_lines=4, filament_alone_rests=True),
    "weak axes": MachineLimits(acceleration=(900.0, 500.0, 100.0, 1000.0), speed=(60.0, 50.0, 5.0, 20.0)),
    "rare rules": MachineLimits(
        short_arcs=True, corner_counts_filament=True, commands_per_second=300.0, volumetric=6.0
    ),
}
machines = pytest.mark.parametrize("limits", MACHINES.values(), ids=list(MACHINES))

number = st.one_of(
    st.floats(-200, 200).map(lambda value: f"{value:.3f}"),
    st.integers(-9, 250).map(str),
    st.sampled_from([".5", "5.", "-0", "007", "1e-05", "nan", "1e999", "", "1.2.3", "99999999", "--1", "+3"]),
)
word = st.builds(lambda letter, value: letter + value, st.sampled_from("XYZEF"), number)
move = st.builds(
    lambda code, words, blank, tail: blank.join([code, *words]) + tail,
    st.sampled_from(["G1", "G0", "G1", "G1", "g1", "G01"]),
    st.lists(word, max_size=5),
    st.sampled_from([" ", " ", " ", "", "  "]),
    st.sampled_from(["", "", "", " ", " ; wall", " (inner)", "*17"]),
)
plain_move = st.builds(
    lambda x, y, e: f"G1 X{x:.3f} Y{y:.3f} E{e:.5f}", st.floats(0, 100), st.floats(0, 100), st.floats(-1, 3)
)
other = st.sampled_from(
    """
    G90|G91|M82|M83|G92 E0|G92 X5 Y5|G92|G28|G28 X|G20|G21|G4 P250|G4 S1|M204 P700 T900|M204 S1500|M201 X900 Y300|
    M203 X80 Z4|M205 X5 Y5 J0.03|M220 S150|M220 S100|M104 S200|M109 S205|M140 S60|M190 S60|M400|M600|M0 take it out|T0|T1|
    G10|G11|G2 X20 Y20 I5 J5|G3 X30 R20|G2 I4 J0|G29|M117 X5 Y7|M106 S255|M73 P5 R60|; comment||garbage|N12 G1 X5*33|
    G999|M999999|M106S3|G2 X5|( note )|G1|G0 F3000
    """.replace("\n    ", "").split("|")
)
job = st.lists(st.one_of(plain_move, plain_move, plain_move, move, other), max_size=60).map(
    lambda lines: "\n".join(lines) + "\n"
)


def same(one: Plan, other: Plan) -> None:
    """Alike to the last digit that means anything."""
    assert other.seconds == pytest.approx(one.seconds, rel=1e-9, abs=1e-9)
    assert other.moving == pytest.approx(one.moving, rel=1e-9, abs=1e-9)
    assert other.filament == pytest.approx(one.filament, rel=1e-9, abs=1e-6)
    for name in ("size", "digest", "moves", "layers", "odd", "unknown", "too_fast", "stated"):
        assert getattr(other, name) == getattr(one, name), name
    assert [fault[:3] for fault in other.faults] == [fault[:3] for fault in one.faults]
    assert [(hold.kind, hold.byte, hold.what) for hold in other.holds] == [(h.kind, h.byte, h.what) for h in one.holds]
    assert [hold.at for hold in other.holds] == pytest.approx([hold.at for hold in one.holds], rel=1e-9, abs=1e-9)
    assert [hold.seconds for hold in other.holds] == pytest.approx([h.seconds for h in one.holds], rel=1e-7, abs=1e-7)
    assert [heat[:3] for heat in other.heats] == [heat[:3] for heat in one.heats]


@machines
@pytest.mark.parametrize("name", ["vase", "lattice", "arcs", "mixed", "uneven"])
def test_the_engines_agree_on_whole_files(
    run: Run, shape: Callable[[str, float], bytes], name: str, limits: MachineLimits
) -> None:
    text = shape(name, 0.15)
    plain, vector = run("plain", text, limits), run("vector", text, limits, batch=70_000)
    same(plain.plan, vector.plan)
    begins = {move.end: move.begins + move.seconds for move in plain.moves}
    for move in vector.moves:
        assert move.begins + move.seconds == pytest.approx(begins[move.end], rel=1e-9, abs=1e-7)
    known = dict(zip((knot[0] for knot in plain.plan.knots()), (knot[1] for knot in plain.plan.knots()), strict=True))
    shared = [(known[byte], seconds) for byte, seconds, _ in vector.plan.knots() if byte in known]
    assert len(shared) >= 0.9 * len(known)
    assert [seconds for _, seconds in shared] == pytest.approx([seconds for seconds, _ in shared], rel=1e-9, abs=1e-7)


@settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=job, limits=st.sampled_from(list(MACHINES.values())), piece=st.integers(1, 400), batch=st.integers(40, 400))
def test_the_engines_agree_on_any_file_in_any_pieces(
    run: Run, text: str, limits: MachineLimits, piece: int, batch: int
) -> None:
    rules = Rules(nozzle=(180, 230), bounds=((0, 150), (0, 150), (0, 100)))
    whole = run("plain", text, limits, rules=rules).plan
    same(whole, run("plain", text, limits, rules=rules, piece=piece, batch=batch).plan)
    same(whole, run("vector", text, limits, rules=rules).plan)
    same(whole, run("vector", text, limits, rules=rules, piece=piece, batch=batch).plan)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(rubbish=st.binary(max_size=3000), batch=st.integers(20, 500))
def test_rubbish_gets_a_plan_from_both_and_the_same(run: Run, rubbish: bytes, batch: int) -> None:
    """Never a crash, whatever lies in the folder."""
    whole = run("plain", rubbish).plan
    same(whole, run("vector", rubbish, batch=batch).plan)
    assert whole.size == len(rubbish)


def test_a_line_without_end_is_passed_over_alike(run: Run) -> None:
    text = b"G28\nG1 X10 F600\n" + b"G1 X" + b"9" * 300_000 + b"\nG1 X20\n; " + b"c" * 200_000 + b"\nG1 X30\n"
    plans = [
        run(engine, text, batch=batch, piece=piece).plan
        for engine in ("plain", "vector")
        for batch, piece in ((65_536, 1 << 20), (262_144, 1 << 20), (1000, 1000))
    ]
    for plan in plans:
        same(plans[0], plan)
    assert plans[0].odd == 1
    assert plans[0].moves == 3


def test_a_relative_move_to_where_the_nozzle_stands_already_leaves_the_machine_in_neither(run: Run) -> None:
    """A line that moves nothing is no fault of the file, however far outside it stands."""
    text = "G28\nG1 Y251.000\nG91\nG1 X0.000 Y0.000 E0.00000\nG1 X1\n"
    rules = Rules(bounds=((0.0, 220.0), (0.0, 220.0), (0.0, 250.0)))
    plain, vector = (run(engine, text, rules=rules).plan for engine in ("plain", "vector"))
    same(plain, vector)
    begins = [text.index("G1 Y251"), text.index("G1 X1\n")]
    assert [fault.byte for fault in plain.faults if fault.name == "outside-machine"] == begins
