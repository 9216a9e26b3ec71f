"""Lines as they are met in job files: what each is worth in seconds, and what is counted as odd."""

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.words import read_line

Run = Callable[..., Any]
Wide = Callable[..., MachineLimits]

both = pytest.mark.parametrize("engine", ["plain", "vector"])
TEN = 10 / 100 + 100 / 1250
"""s for 10 mm at 100 mm/s from rest to rest"""


@both
@pytest.mark.parametrize(
    ("text", "seconds", "odd"),
    [
        ("g1 x10 f6000", TEN, 0),
        ("G1X10F6000", TEN, 0),
        ("N7 G1 X10 F6000*91", TEN, 0),
        ("G1 (not X99) X10 F6000", TEN, 0),
        ("G1 X10 F6000 ; X99", TEN, 0),
        ("G90\nG92 X5\nG91\nG1 X10 F6000", TEN, 0),
        ("G4 P500", 0.5, 0),
        ("G4 S2", 2.0, 0),
        ("G4 P500 S2", 2.0, 0),
        ("G20\nG1 X0.393700787401575 F236.220472440945", TEN, 0),
        ("M204 S2500\nG1 X10 F6000", 10 / 100 + 100 / 2500, 0),
        ("M204 T2500 P9\nG1 X10 F6000", 10 / 100 + 100 / 2500, 0),
        ("M201 X500\nG1 X10 F3000", 10 / 50 + 50 / 500, 0),
        ("M203 X50\nG1 X10 F6000", 10 / 50 + 50 / 1250, 0),
        ("M220 S50\nG1 X10 F12000", TEN, 0),
        ("G1 F6000\nG1 X10 F400:text", 10 / (400 / 60) + (400 / 60) / 1250, 1),
        ("G1 X1e1 F6000", TEN, 1),
        ("G1 X10 F6000 Y", TEN, 1),
        ("G1 X10 F6000 Ynan", TEN, 1),
        ("G1 X10 F6000 Y1e999", TEN, 1),
        ("G1 X10 F6000\nX20", TEN, 1),
        ("M117 Layer X3 of 9\nG1 X10 F6000", TEN, 0),
        ("G1 X10 F6000\nG1 X10", TEN, 0),
        ("G1 X.1e2 F6000", TEN, 1),
        ("G1 X+10. F06000", TEN, 0),
        ("M83\nG10\nG11", 2 * (1 / 35 + 35 / 1250), 0),
        ("M83\nM207 S0.8 F2100\nG10\nG10\nG11", 2 * 0.0516398, 0),
        ("G91\nG1 X5 F6000\nG1 X5", TEN, 0),
        ("M82\nG1 E5 F6000\nG92 E0\nG1 E5", 10 / 100 + 100 / 1250, 0),
        ("G1 X1e-05 F6000\nG1 X10", TEN, 1),
    ],
)  # fmt: skip
def test_a_line_is_worth_its_seconds_however_it_is_written(
    run: Run, wide: Wide, engine: str, text: str, seconds: float, odd: int
) -> None:
    """A line that is read as nothing makes the whole plan short, and nobody sees it."""
    retracting = 1200 if "M207" in text else 1250
    plan = run(engine, text + "\n", wide(retracting=retracting)).plan
    assert plan.seconds == pytest.approx(seconds, rel=1e-5 if "M207" in text else 1e-9)
    assert plan.odd == odd


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("G1X4Y5E.2", "G1", {"X": 4, "Y": 5, "E": 0.2}),
        ("g1x1e5", "G1", {"X": 1, "E": 5}),
        ("G1 X1E-5", "G1", {"X": 1, "E": -5}),
        ("G28 X Y", "G28", {"X": None, "Y": None}),
        ("N2041 G1 X41.250 Y-7.5 E0.03125 F2400*45", "G1", {"X": 41.25, "Y": -7.5, "E": 0.03125, "F": 2400}),
        ("G92.1", "G92.1", {}),
        ("M104 S205 (nozzle)", "M104", {"S": 205}),
        ("G1 X1 X2", "G1", {"X": 2}),
        ("T1", "T1", {}),
        ("M23 G1.GCO", "M23", {}),
        ("   ", "", {}),
        ("; G1 X5", "", {}),
    ],
)
def test_words_are_read_however_they_stand(text: str, code: str, words: dict[str, float | None]) -> None:
    line = read_line(text)
    assert (line.code, line.words, line.odd) == (code, words, False)


@given(st.text(max_size=200))
def test_any_text_is_a_line(text: str) -> None:
    line = read_line(text)
    assert line.odd in (True, False)
    assert all(value is None or abs(value) < float("inf") for value in line.words.values())


@both
def test_unknown_commands_are_named_and_counted(run: Run, engine: str) -> None:
    plan = run(engine, "M7777 S1\nm7777\nG999\nM106 S255\nM900 K0.05\nM862.3 P1\n").plan
    assert plan.unknown == (("G999", 1), ("M7777", 2))


@both
def test_a_person_is_planned_where_the_file_asks_for_one(run: Run, engine: str) -> None:
    plan = run(engine, "M600\nM0 take it out\nM1\nM25\nM226 P1 S1\nM601\nM117 M600\n").plan
    assert [hold.what for hold in plan.pauses] == ["M600", "M0", "M1", "M25", "M226", "M601"]


@both
def test_homing_probing_and_tool_changes_take_their_allowance(run: Run, engine: str) -> None:
    limits = MachineLimits(homing=30, probing=80, tool_change=12)
    plan = run(engine, "G28\nG28 X Y\nG29\nT0\nT0\nT1\n", limits).plan
    assert [(hold.kind, hold.seconds) for hold in plan.holds] == [
        ("home", 30), ("home", 20), ("probe", 80), ("tool", 12)
    ]  # fmt: skip
    assert plan.seconds == 142
    assert plan.moving == 0


@both
def test_a_stopped_machine_starts_from_rest(run: Run, wide: Wide, engine: str) -> None:
    plan = run(engine, "G1 X10 F6000\nM400\nG1 X20\n", wide()).plan
    assert plan.seconds == pytest.approx(2 * TEN, rel=1e-12)
    assert plan.holds == ()
