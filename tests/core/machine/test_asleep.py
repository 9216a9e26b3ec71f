"""The computer that streams a job sleeps, by its own clock or by the silence in its log."""

from collections.abc import Callable
from typing import Any

import pytest

from watchdog.core.observations import Action, HostResumed, Reading, Resend, Temperatures, WatchStarted
from watchdog.core.snapshot import Source

Bench = Any  # conftest.Bench: test folders are no packages, so its type cannot be imported


@pytest.fixture
def building(new_bench: Callable[..., Bench], code: Any) -> Bench:
    """A streamed job, followed in a log for three minutes."""
    log = new_bench(Source.LISTENING)
    log.taken(code("M104", 1, S=205.0), code("G28", 2), code("M83", 3), code("G1", 4, X=1.0, E=1.0))
    stream(log, code, 5, 95)
    log.effects.clear()
    return log


def stream(log: Bench, code: Any, first: int, count: int) -> None:
    """Lines that are sent and taken, one every two seconds."""
    for number in range(first, first + count):
        log.wait(2)
        log.taken(code("G1", number, X=float(number), E=0.1))


@pytest.mark.parametrize("by_remark", [False, True])
def test_a_sleep_in_mid_stream_is_kept_with_its_length(building: Bench, code: Any, by_remark: bool) -> None:
    """The nozzle stands hot on the part, and the job goes on as if nothing had been."""
    if by_remark:
        building.now += 600
        building.remark(HostResumed(600.0))
        assert building.judge is True
    else:
        building.blind(600)
    woke = building.now
    assert (building.seen.slept_at, building.seen.slept) == (woke, 600.0)
    stream(building, code, 100, 20)
    assert (building.seen.slept_at, building.seen.slept) == (woke, 600.0)
    assert building.jobs() == []


def test_a_gap_of_both_sides_in_a_log_is_a_sleep(building: Bench, code: Any) -> None:
    """Another computer writes the log: only its silence tells."""
    building.wait(90)
    assert building.seen.slept_at is None
    building.taken(code("G1", 100, X=100.0, E=0.1))
    assert building.seen.slept_at is not None
    assert building.seen.slept == pytest.approx(90.0)


def test_the_log_that_was_read_up_after_a_restart_shows_no_sleep(building: Bench, code: Any) -> None:
    """The watch was away, the stream was not."""
    stream(building, code, 100, 100)
    building.blind(0.5)
    assert building.seen.slept < 1
    building.now += 2
    building.remark(WatchStarted())
    assert building.seen.slept < 1


def test_a_stream_that_had_stopped_before_the_sleep_is_none(building: Bench) -> None:
    """A job whose file leaves the heat on never ends on the wire; the computer may sleep after it."""
    for _ in range(20):
        building.said(Temperatures(Reading(205.0, 205.0), None))
    building.blind(600)
    assert building.seen.slept_at is None


def test_a_machine_that_speaks_while_nothing_is_sent_is_no_sleep(building: Bench, code: Any) -> None:
    for _ in range(60):
        building.wait(2)
        building.said(Temperatures(Reading(205.0, 205.0), None))
    building.taken(code("G1", 100, X=100.0, E=0.1))
    assert building.seen.slept_at is None


@pytest.mark.parametrize("name", ["G4", "M190", "M400"])
def test_a_long_command_keeps_both_sides_silent_without_a_sleep(building: Bench, code: Any, name: str) -> None:
    building.sent(code(name, 100, S=90.0))
    building.wait(180)
    building.said(Temperatures(Reading(205.0, 205.0), None))
    assert building.seen.slept_at is None


def test_a_job_that_is_held_may_be_slept_over(building: Bench) -> None:
    building.said(Action("paused", ""))
    building.blind(600)
    assert building.seen.slept_at is None


def test_a_sleep_over_an_idle_machine_or_a_card_job_harms_nothing(bench: Bench) -> None:
    bench.blind(600)
    assert bench.seen.slept_at is None
    bench.building()
    bench.blind(600)
    assert bench.seen.slept_at is None


def test_the_next_job_knows_nothing_of_it(building: Bench, code: Any) -> None:
    building.blind(600)
    building.taken(code("M110", 0, N=0.0), code("M104", 1, S=205.0), code("G28", 2), code("G1", 3, X=1.0, E=1.0))
    assert building.seen.job.number == 2
    assert building.seen.slept_at is None


def test_a_line_that_is_asked_for_again_and_again_is_one_error(building: Bench) -> None:
    """Every line on its way behind the damaged one brings the same request."""
    for _ in range(4):
        building.said(Resend(96))
    assert building.seen.resends == 1
    building.said(Resend(98))
    assert building.seen.resends == 2


def test_a_program_that_goes_on_asking_a_dead_controller_is_awake(building: Bench, code: Any) -> None:
    """The controller froze over a hot nozzle: nobody must look for the fault at the computer."""
    for _ in range(60):
        building.wait(2)
        building.sent(code("M105"))
    assert building.seen.slept_at is None
    building.taken(code("G1", 100, X=100.0, E=0.1))
    assert building.seen.slept_at is None


def test_a_wait_that_was_acknowledged_when_it_was_read_is_no_sleep(building: Bench, code: Any) -> None:
    """Some controllers answer a dwell at once and say nothing while it lasts."""
    building.taken(code("G4", 100, S=420.0))
    building.wait(425)
    building.taken(code("G1", 101, X=101.0, E=0.1))
    assert building.seen.slept_at is None
