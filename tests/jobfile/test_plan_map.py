"""The map from bytes to seconds against every single line of the job."""

from collections.abc import Callable
from math import inf
from typing import Any

import pytest

from watchdog.core.plan import SHORT, from_bytes
from watchdog.jobfile.machine_limits import MachineLimits

Run = Callable[..., Any]
Shape = Callable[[str, float], bytes]

both = pytest.mark.parametrize("engine", ["plain", "vector"])


def reads(moves: list[Any], lead: int) -> list[tuple[int, float]]:
    """When each line is read, by definition: as the move `lead` moves before it starts. For a job without waits."""
    return [(move.end, moves[n - lead].begins if n >= lead else 0.0) for n, move in enumerate(moves)]


@both
@pytest.mark.parametrize("name", ["vase", "lattice", "arcs", "uneven"])
@pytest.mark.parametrize("blocks", [4, 16])
def test_every_line_is_mapped_within_a_second(run: Run, shape: Shape, engine: str, name: str, blocks: int) -> None:
    """The counter runs ahead of the nozzle; a map that forgot it would be off by many seconds."""
    text = b"\n".join(line for line in shape(name, 0.2).split(b"\n") if line[:1] == b"G" and line[:3] != b"G28") + b"\n"
    text = (b"" if name == "lattice" else b"M83\n") + text
    plan, moves = run(engine, text, MachineLimits(blocks=blocks))
    truth = reads(moves, blocks)
    assert max(abs(plan.seconds_at(byte) - seconds) for byte, seconds in truth) <= 1.0
    assert plan.tolerance == 1.0
    assert max(seconds for _, seconds in truth) < plan.seconds


@both
def test_bytes_are_not_time(run: Run, shape: Shape, engine: str) -> None:
    """At a tenth of the bytes of this job a share of bytes would be far from the share of time."""
    plan = run(engine, shape("uneven", 0.5)).plan
    assert plan.seconds_at(plan.size / 2) > 0.9 * plan.seconds


def test_a_knot_takes_sixteen_bytes(run: Run, shape: Shape) -> None:
    plan = run("plain", shape("lattice", 0.2)).plan
    knots = len(plan.knots())
    assert len(plan.knot_bytes) + len(plan.knot_seconds) + len(plan.knot_filament) == 16 * knots
    assert knots < 0.15 * plan.moves


@both
def test_filament_is_exact_at_the_knots_and_near_between(run: Run, engine: str) -> None:
    lines = ["M83", "G1 X0 F3000"] + [f"G1 X{10 * (n % 2)} E1" for n in range(1, 301)]
    plan = run(engine, "\n".join(lines) + "\n").plan
    assert plan.filament == pytest.approx(300)
    assert plan.filament_at(plan.size) == pytest.approx(300)
    assert plan.filament_at(plan.size / 2) == pytest.approx(150, abs=5)


@both
def test_a_hold_is_a_standstill_at_its_place_and_nowhere_else(run: Run, engine: str) -> None:
    """A stall limit made of the longest hold in the file would let a freeze elsewhere go unseen for an hour."""
    walk = "".join(f"G1 X{n % 7} Y{n % 5}\n" for n in range(2000))
    text = "G1 F3000\n" + walk + "G4 S600\n" + walk + "M600\n" + walk
    plan = run(engine, text).plan
    dwell = text.index("G4") + len("G4 S600\n")
    person = text.index("M600") + len("M600\n")
    assert plan.stretch_at(dwell) == pytest.approx(600, abs=5)
    assert plan.stretch_at(person) == inf
    assert plan.stretch_at(dwell // 2) == SHORT
    assert plan.stretch_at((dwell + person) // 2) == SHORT
    assert plan.seconds_at(dwell + 20) - plan.seconds_at(dwell) > 599
    assert plan.byte_at(plan.seconds_at(dwell) + 300) in range(dwell, dwell + 20)
    assert [hold.kind for hold in plan.holds] == ["dwell", "person"]
    assert plan.pauses == (plan.holds[1],)
    assert plan.holds[0].byte == dwell


@both
def test_the_end_of_the_job_is_a_standstill_too(run: Run, engine: str) -> None:
    """Behind the last line the queue still runs empty: long slow moves must not look like a freeze."""
    plan = run(engine, "".join(f"G1 X{100 * (n % 2)} F600\n" for n in range(1, 40))).plan
    left = 17 * (10 + 10 / 1250)  # the moves in the queue, and the one whose line has just been read
    assert plan.seconds_at(plan.size) == pytest.approx(plan.seconds - left, abs=1)
    assert plan.stretch_at(plan.size) == pytest.approx(left, abs=1)


@both
def test_a_tail_of_comments_takes_no_time(run: Run, engine: str) -> None:
    walk = "".join(f"G1 X{n % 7} Y{n % 5} F3000\n" for n in range(500))
    plan = run(engine, walk + "; setting = 1\n" * 3000).plan
    assert plan.seconds_at(len(walk)) == pytest.approx(plan.seconds_at(plan.size), abs=1.0)


@both
def test_heat_is_waited_for_by_the_model_and_only_once(run: Run, engine: str) -> None:
    limits = MachineLimits()
    plan = run(engine, "M140 S60\nM104 S205\nM190 S60\nM109 S205\nG28\nG1 X9 F900\nM104 S0\nM140 S0\n", limits).plan
    bed, nozzle, home = plan.holds
    assert bed.seconds == pytest.approx(limits.bed.warming(25, 60) + limits.bed.settle)
    assert nozzle.seconds == 0  # it warmed up beside the bed
    assert (home.kind, home.seconds) == ("home", limits.homing)
    assert [(heat.heater, heat.target) for heat in plan.heats][-2:] == [("nozzle", 0), ("bed", 0)]
    alone = run(engine, "M109 S205\nM109 S205\n", limits).plan
    assert [hold.seconds for hold in alone.holds] == pytest.approx([limits.nozzle.warming(25, 205) + 10, 0])


@both
def test_layers_begin_where_filament_is_first_laid_higher(run: Run, engine: str) -> None:
    text = (
        "M83\nG1 Z5 F600\nG1 Z0.2\n" + "G1 X10 E1\nG1 X0 E1\nG1 E-1 Z9\nG1 E1 Z0.4\n" + "G1 X10 E1\nG1 Z0.6\nG1 X0 E1\n"
    )
    plan = run(engine, text).plan
    lines = text.split("\n")
    starts = [sum(len(line) + 1 for line in lines[:n]) for n in range(len(lines))]
    assert plan.layers == (starts[3], starts[7], starts[9])
    assert plan.first_layer_end == starts[7]


def test_too_many_knots_widen_the_tolerance_and_say_so(run: Run, shape: Shape, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file without end must not fill the memory with knots; a map that is coarser must not claim to be fine."""
    monkeypatch.setattr("watchdog.jobfile.fit.MOST_KNOTS", 40)
    text = (
        b"\n".join(line for line in shape("lattice", 0.2).split(b"\n") if line[:1] == b"G" and line[:3] != b"G28")
        + b"\n"
    )
    plan, moves = run("plain", text)
    assert len(plan.knots()) <= 41
    off = max(abs(plan.seconds_at(byte) - seconds) for byte, seconds in reads(moves, 16))
    assert 1.0 < off <= plan.tolerance


@both
def test_a_chain_that_is_never_decided_is_cut_short(run: Run, engine: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """An acceleration of 1 mm/s² needs a kilometre to stop from 50 mm/s: the planner must not hold a whole file for that."""
    for place in ("plain_times", "vector_times"):
        monkeypatch.setattr(f"watchdog.jobfile.{place}.MOST_KEPT", 500)
    text = "M204 S1\nG1 F3000\n" + "".join(f"G1 X{n / 10:.1f}\n" for n in range(1, 6000))
    limits = MachineLimits(blocks=400)
    whole = run(engine, text, limits).plan
    cut = run(engine, text, limits, batch=3000).plan
    assert whole.moves == cut.moves == 5999
    assert cut.seconds >= whole.seconds * (1 - 1e-9)


@both
def test_a_kept_plan_is_the_same_plan(run: Run, shape: Shape, engine: str) -> None:
    plan = run(engine, shape("mixed", 0.2) + b"M600\nM0\n").plan
    kept = plan.to_bytes()
    assert from_bytes(kept) == plan
    assert hash(from_bytes(kept)) == hash(plan)
    for damaged in (b"", kept[:-1], kept + b"x", kept[:40], b"no plan" + kept, kept.replace(b'"odd"', b'"add"')):
        with pytest.raises(ValueError, match="plan"):
            from_bytes(damaged)
