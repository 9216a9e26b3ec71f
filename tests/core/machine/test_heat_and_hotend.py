"""Heaters, and how hot the nozzle is said to be."""

from collections.abc import Callable
from typing import Any

import pytest

from watchdog.core.observations import Busy, Reading, Temperatures
from watchdog.core.snapshot import Execution, Hotend, Source

Bench = Any  # conftest.Bench: test folders are no packages, so its type cannot be imported


def test_a_lesson_of_heat_runs_through_every_value_once(bench: Bench) -> None:
    for now in (24.0, 24.1):
        bench.heat(now, 0.0)
    for now in (60.0, 150.0, 200.0, 203.5, 206.0, 201.5, 204.0, 198.0, 205.0):
        bench.heat(now, 205.0)
    for now in (200.0, 120.0, 51.0, 49.5, 50.4, 49.8):
        bench.heat(now, 0.0)
    assert bench.states("hotend") == ["cold", "heating", "hot", "cooling", "cold"]


def test_a_missing_target_is_the_last_one_told(bench: Bench) -> None:
    """Reports while waiting leave the target out: read as off, a heating machine would count as cooling."""
    bench.heat(100.0, 205.0)
    since = bench.seen.nozzle.target_since
    bench.said(Temperatures(Reading(120.0, None), None, waiting=True))
    assert bench.seen.nozzle.target == 205.0
    assert bench.seen.nozzle.target_since == since
    assert bench.seen.nozzle.target_at == since
    assert bench.seen.hotend == Hotend.HEATING
    assert bench.seen.nozzle.previous == 100.0


def test_a_machine_that_waits_for_heat_is_heating_whatever_target_was_told_before(bench: Bench) -> None:
    """Such reports leave the target out: the last one told is the `off` from before the job."""
    bench.heat(24.0, 0.0)
    for now in (60.0, 64.0, 90.0):
        bench.said(Temperatures(Reading(now, None), None, waiting=True))
        assert bench.seen.hotend == Hotend.HEATING
    bench.wait(12)
    assert bench.seen.hotend == Hotend.HOT  # whether it is off was not told
    bench.heat(92.0, 0.0)
    assert bench.seen.hotend == Hotend.COOLING


def test_a_target_never_told_is_unknown_and_not_off(bench: Bench) -> None:
    bench.said(Temperatures(Reading(180.0, None), None))
    assert bench.seen.nozzle.target is None
    assert bench.seen.heat_on is None
    assert bench.seen.hotend == Hotend.HOT


@pytest.mark.parametrize("odd", [-15.0, -333.0, -100.0, -9.0, 500.0, 2000.0])
def test_a_reading_that_no_sensor_can_mean_is_unknown_and_shown_as_printed(bench: Bench, odd: float) -> None:
    """An open sensor reads as very cold: the nozzle may glow."""
    bench.heat(24.0, 0.0)
    bench.heat(odd, 0.0)
    assert bench.seen.hotend == Hotend.UNKNOWN
    assert bench.seen.nozzle.now == odd


def test_the_machines_own_defect_number_makes_the_heat_unknown(bench: Bench) -> None:
    bench.said(Temperatures(Reading(30.0, 0.0), None, sensor_flag=1))
    assert bench.seen.hotend == Hotend.UNKNOWN
    bench.said(Temperatures(Reading(30.0, 0.0), None, sensor_flag=0))
    assert bench.seen.hotend == Hotend.COLD


def test_a_number_that_is_none_makes_the_heat_unknown(bench: Bench) -> None:
    bench.heat(200.0, 205.0)
    bench.heat(None, 205.0)
    assert bench.seen.nozzle.now is None
    assert bench.seen.hotend == Hotend.UNKNOWN


def test_an_old_reading_is_unknown_and_never_cold(bench: Bench) -> None:
    bench.heat(24.0, 0.0)
    bench.wait(19)
    assert bench.seen.hotend == Hotend.COLD
    bench.wait(3)
    assert bench.seen.hotend == Hotend.UNKNOWN
    assert bench.seen.nozzle.now is None
    assert bench.states("hotend") == ["cold", "unknown"]


def test_a_log_with_slow_reports_is_read_at_their_pace(new_bench: Callable[..., Bench]) -> None:
    log = new_bench(Source.LISTENING)
    for _ in range(3):
        log.heat(24.0, 0.0)
        log.wait(29)
    assert log.seen.hotend == Hotend.COLD
    log.wait(62)
    assert log.seen.hotend == Hotend.UNKNOWN


def test_the_highest_power_is_kept(bench: Bench) -> None:
    for power in (12, 127, 60):
        bench.said(Temperatures(Reading(200.0, 205.0, power), None))
    assert (bench.seen.nozzle.power, bench.seen.nozzle.power_top) == (60, 127)


def test_a_command_sets_the_target_until_a_report_tells(bench: Bench, code: Any) -> None:
    bench.said(Temperatures(Reading(24.0, None), None))
    bench.taken(code("M104", S=205.0), code("M140", S=60.0))
    assert (bench.seen.nozzle.target, bench.seen.bed.target) == (205.0, 60.0)
    bench.heat(24.0, 190.0, 23.0, 55.0)
    assert (bench.seen.nozzle.target, bench.seen.bed.target) == (190.0, 55.0)
    bench.sent(code("M109", S=210.0))  # its ok comes only at the end
    assert bench.seen.nozzle.target == 210.0


def test_a_command_for_another_tool_or_without_a_number_sets_nothing(bench: Bench, code: Any) -> None:
    bench.heat(24.0, 0.0)
    bench.taken(code("M104", T=1.0, S=205.0), code("M104"))
    assert bench.seen.nozzle.target == 0.0


def test_a_nozzle_that_climbs_heats_up_and_one_that_has_given_up_does_not(bench: Bench) -> None:
    for n in range(60):
        bench.heat(40.0 + 2 * n, 205.0)
        assert bench.seen.heating_up is True
    for _ in range(150):
        bench.heat(158.0, 205.0)
    assert bench.seen.heating_up is False  # a loose heater: no reason to wait any longer


def test_a_bed_that_creeps_still_heats_up(bench: Bench) -> None:
    for n in range(400):
        bench.heat(205.0, 205.0, 60.0 + 0.04 * n, 90.0)
    assert bench.seen.heating_up is True


@pytest.mark.parametrize("word", [Busy("heating"), Temperatures(Reading(90.0, None), None, waiting=True)])
def test_the_machines_word_for_heating_is_believed_for_moments(bench: Bench, word: Any) -> None:
    bench.heat(205.0, 205.0)
    bench.said(word)
    assert bench.seen.heating_up is True
    for _ in range(12):
        bench.heat(205.0, 205.0)
    assert bench.seen.heating_up is False


def test_heating_without_a_reading_cannot_be_told(bench: Bench) -> None:
    assert bench.seen.heating_up is None
    bench.heat(100.0, 205.0)
    bench.wait(30)
    assert bench.seen.heating_up is None


def test_time_spent_warming_up_is_counted_for_the_job(bench: Bench) -> None:
    bench.heat(24.0, 205.0)
    bench.place(0, 300)
    for n in range(30):
        bench.heat(24.0 + n, 205.0)
    assert bench.seen.job.heating == pytest.approx(30.0, abs=2.0)
    bench.warm()
    warmed = bench.seen.job.heating
    bench.place(900, 2_000, 4_000)
    assert bench.seen.job.heating == warmed


def test_a_cold_machine_with_its_heaters_off_is_ready(bench: Bench) -> None:
    bench.heat(24.0, 0.0)
    assert bench.seen.execution == Execution.READY


def test_a_hot_machine_is_ready_only_when_no_job_has_shown_itself_for_a_while(bench: Bench) -> None:
    for _ in range(50):
        bench.heat(205.0, 205.0)
    assert bench.seen.active is None
    for _ in range(15):
        bench.heat(205.0, 205.0)
    assert bench.seen.active is False
