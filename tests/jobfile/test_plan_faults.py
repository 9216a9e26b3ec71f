"""The faults of a file that a person should hear of before the job is started."""

from collections.abc import Callable
from typing import Any

import pytest

from watchdog.jobfile.rules import Rules

Run = Callable[..., Any]

both = pytest.mark.parametrize("engine", ["plain", "vector"])
START = "M140 S60\nM109 S205\nM190 S60\nG28\nM83\n"
WALK = "G1 X10 Y10 F1800\nG1 X50 Y10 E2\nG1 X50 Y50 E2\n"
END = "M104 S0\nM140 S0\nM84\n"
RULES = Rules(nozzle=(190, 220), bed=(50, 70), bounds=((0, 200), (0, 200), (0, 180)), still_hot=900)


@both
def test_a_good_file_has_none(run: Run, engine: str) -> None:
    assert run(engine, START + WALK + END, rules=RULES).plan.faults == ()


@both
@pytest.mark.parametrize(
    ("name", "text", "word", "at"),
    [
        ("heat-left-on", START + WALK + "M104 S0\nM84\n", "bed", None),
        ("heat-left-on", START + WALK + "M140 S0\nM84\n", "nozzle", None),
        ("cold-extrusion", "G28\nM83\n" + WALK + END, "hot", "G1 X50 Y10"),
        ("cold-extrusion", "M104 S205\nG28\nM83\n" + WALK + END, "hot", "G1 X50 Y10"),
        ("cold-extrusion", START + "M104 S0\n" + WALK + END, "hot", "G1 X50 Y10"),
        ("not-homed", START.replace("G28\n", "") + WALK + END, "homed", "G1 X10"),
        ("nozzle-outside-window", START.replace("205", "260") + WALK + END, "260", "M109"),
        ("bed-outside-window", START.replace("M190 S60", "M190 S95") + WALK + END, "95", "M190"),
        ("outside-machine", START + WALK + "G1 X250\n" + END, "X250", "G1 X250"),
        ("outside-machine", START + WALK + "G91\nG1 Z-3\nG90\n" + END, "Z-3", "G1 Z-3"),
        ("heat-without-motion", START + "G4 S1000\n" + WALK + END, "1000", "G4"),
        ("too-fast", START + WALK + "G1 X99 F60000\n" + END, "1 moves", None),
        ("number-not-finite", START + WALK + "G1 X1e999\n" + END, "X1e999", "G1 X1e999"),
        ("number-not-finite", START + WALK + "G1 XNaN\n" + END, "XNaN", "G1 XNaN"),
        ("absurd-move", START + WALK + "G1 X99999999\n" + END, "kilometre", None),
        ("bad-arc", START + WALK + "G2 X70 Y50\n" + END, "G2", "G2"),
        ("bad-arc", START + WALK + "G2 X70 Y50 R1\n" + END, "G2", "G2"),
        ("unknown-commands", START + WALK + "M7654\n" + END, "M7654", None),
        ("last-line-cut", START + WALK + END + "G1 X5", "G1 X5", "G1 X5"),
        ("last-line-cut", START + WALK + END + "ga", "GA", "ga"),
        ("empty", "", "nothing", None),
        ("no-moves", "; only words\n", "moves", None),
    ],
)
def test_a_fault_is_named_with_its_place(
    run: Run, engine: str, name: str, text: str, word: str, at: str | None
) -> None:
    plan = run(engine, text, rules=RULES).plan
    (fault,) = [fault for fault in plan.faults if fault.name == name]
    assert word in fault.words
    if at is not None:
        assert fault.byte == text.rindex(at)


@both
def test_a_file_that_ends_without_a_line_end_is_not_cut_for_that(run: Run, engine: str) -> None:
    assert run(engine, (START + WALK + END).rstrip("\n"), rules=RULES).plan.faults == ()


@both
def test_without_rules_there_is_no_window_and_no_room(run: Run, engine: str) -> None:
    text = START.replace("205", "260") + WALK + "G1 X900\n" + END
    assert run(engine, text).plan.faults == ()


@both
def test_time_hot_without_motion_is_told(run: Run, engine: str) -> None:
    assert run(engine, START + "G4 S60\n" + WALK + "G4 P500\n" + END + "G4 S300\n").plan.hot_still == pytest.approx(
        60.5
    )
