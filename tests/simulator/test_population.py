"""Machines drawn by a seed, and what people do with them."""

import re

from watchdog.core.traffic import Direction
from watchdog.simulator.laboratory import EPOCH, record, run, sample_options
from watchdog.simulator.population import draw, healthy_day, lesson
from watchdog.simulator.script import read_script

SEEDS = range(120)


def test_the_same_seed_gives_the_same_machine() -> None:
    assert draw(7) == draw(7)
    assert healthy_day(draw(7), 7200.0) == healthy_day(draw(7), 7200.0)
    assert draw(7).options != draw(8).options


def test_all_kinds_of_machines_are_drawn() -> None:
    """A watch that was tried on one kind alone is trusted too far."""
    machines = [draw(seed) for seed in SEEDS]
    assert {machine.options.family for machine in machines} == {"A", "A'", "B"}
    assert {machine.material for machine in machines} == {"PLA", "PETG"}
    assert {trait for machine in machines for trait in machine.traits} >= {
        "cold room",
        "slow bed",
        "switched bed",
        "no guards",
    }
    assert len({machine.options.hot_end.watts for machine in machines}) == len(machines)
    assert {machine.pace.temperature for machine in machines} == {2.0, 3.0, 5.0}


def test_every_script_can_be_read() -> None:
    for seed in SEEDS:
        assert read_script(healthy_day(draw(seed), 4 * 3600.0))
        assert read_script(lesson(draw(seed), "stall", in_job=True))[-1].share is not None
        assert read_script(lesson(draw(seed), "hot-after-load", in_job=False))[-1].seconds is not None


def test_every_heater_reaches_what_its_jobs_ask_for() -> None:
    """A machine that cannot hold its heat with the fan on is broken, not healthy."""
    for seed in SEEDS:
        options, (nozzle, bed) = draw(seed).options, draw(seed).heats
        needs = (options.hot_end.loss + options.hot_end.fan_loss) * (nozzle - options.ambient)
        assert needs < options.hot_end.watts * 0.95
        assert options.bed.loss * (bed - options.ambient) < options.bed.watts * 0.8


def test_a_slow_bed_takes_about_twelve_minutes() -> None:
    machine = next(drawn for drawn in map(draw, SEEDS) if drawn.traits == ("slow bed",))
    target = machine.heats[1]
    lines = run(f"at 5 s preheat 0 {target}", duration=1500.0, options=machine.options)
    warm = next(
        line.stamp - EPOCH
        for line in lines
        if (found := re.search(r" B:([\d.]+) ", line.text)) and float(found[1]) > target - 1
    )
    assert 400 < warm < 1200


def test_a_recording_tells_what_happened_and_when_the_job_ended() -> None:
    recording = record("at 2 s choose thumb-ring.gcode\nat 5 s start\nat 60 s stop", duration=100.0)
    assert recording.happened[-1] == (60.0, "panel: stop")
    assert recording.ends == [60.0]


def test_a_recording_that_has_enough_ends_early() -> None:
    recording = record("", duration=900.0, enough=lambda now, _: now >= 30)
    assert EPOCH + 30 <= recording.lines[-1].stamp < EPOCH + 31


def test_a_clock_that_is_set_moves_the_stamps_and_nothing_else() -> None:
    """Summer time begins in a lesson: an hour is missing on the wall, and none in the nozzle."""
    script = "at 2 s choose thumb-ring.gcode\nat 5 s start"
    even = run(script, duration=300.0)
    stepped = run(script, duration=300.0, clock_steps=[(100.0, 3600.0), (200.0, -2.0)])
    assert [line.text for line in stepped] == [line.text for line in even]
    moved = [round(after.stamp - before.stamp, 6) for before, after in zip(even, stepped, strict=True)]
    assert set(moved) == {0.0, 3600.0, 3598.0}


def test_a_second_job_of_the_same_heat_does_not_trip_the_guard() -> None:
    """The guard starts afresh with each target, also when the heater happened to rest as the last job ended."""
    for seed in (1, 2, 3):
        script = "".join(f"at {at} s choose thumb-ring.gcode\nat {at + 5} s start\n" for at in (5, 1200, 2400))
        lines = run(script, seed=seed, duration=3000.0, options=sample_options("A"))
        assert not [line.text for line in lines if line.direction is Direction.RECEIVED and "Error" in line.text]
