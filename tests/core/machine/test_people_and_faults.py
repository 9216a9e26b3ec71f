"""Waiting for somebody, restarts and faults."""

from typing import Any

import pytest

from watchdog.core.effects import Noted
from watchdog.core.observations import (
    Acknowledged,
    Action,
    Busy,
    CardIdle,
    Fault,
    FaultKind,
    LineFault,
    LinkDown,
    LinkUp,
    Reading,
    ResetCause,
    Started,
    Temperatures,
    Waiting,
)
from watchdog.core.snapshot import Execution, Hotend

Bench = Any  # conftest.Bench: test folders are no packages, so its type cannot be imported


@pytest.mark.parametrize(
    "word", [Busy("person"), Busy("input"), Waiting("Insert filament and send M108"), Action("prompt_begin", "Change")]
)
def test_a_machine_that_asks_for_somebody_waits(bench: Bench, word: Any) -> None:
    bench.building()
    bench.said(word)
    seen = bench.seen
    assert seen.execution is Execution.WAITING
    assert (seen.waits_for_person, seen.waits_since, seen.wait_planned) == (True, bench.now, True)
    assert seen.job.held_since == bench.now
    assert seen.active is True
    assert bench.judge is True
    bench.said(Action("resumed", ""))
    assert bench.seen.execution == Execution.BUILDING
    assert bench.seen.waits_since is None
    assert bench.jobs() == [("held", 1, "waits for somebody"), ("resumed", 1, None)]


@pytest.mark.parametrize(
    "word",
    [
        Action("filament_runout", "T0"),
        Action("out_of_filament", "T0"),
        Action("paused", "filament_runout 0"),
        Action("prompt_begin", "FilamentRunout T0"),
        Fault(FaultKind.FILAMENT_OUT, "//action:filament_runout T0"),
    ],
)
def test_a_run_out_is_a_wait_that_nobody_planned(bench: Bench, word: Any) -> None:
    bench.building()
    bench.said(word)
    bench.said(Busy("person"))
    assert bench.seen.execution == Execution.WAITING
    assert bench.seen.wait_planned is False


def test_a_wait_ends_when_the_counter_moves_again(bench: Bench) -> None:
    bench.building()
    bench.said(Busy("person"))
    bench.place(30_500)  # the queue still filled up
    assert bench.seen.waits_for_person is True
    bench.place(30_500, 31_000)
    assert bench.seen.waits_for_person is False
    assert bench.seen.execution == Execution.BUILDING


def test_a_wait_told_by_keep_alives_ends_when_they_stop(bench: Bench) -> None:
    for _ in range(5):
        bench.said(Busy("person"))
    for _ in range(19):
        bench.heat(205.0, 205.0)
    assert bench.seen.waits_for_person is True
    bench.heat(205.0, 205.0)
    bench.heat(205.0, 205.0)
    assert bench.seen.waits_for_person is False


def test_a_wait_does_not_end_because_the_machine_fell_silent(bench: Bench) -> None:
    bench.building()
    bench.said(Busy("person"))
    bench.wait(300)
    assert bench.seen.waits_for_person is True


def test_an_idle_machines_request_is_not_believed_for_ever(bench: Bench) -> None:
    bench.heat(24.0, 0.0)
    bench.said(Waiting("Press button to resume"))
    assert bench.seen.execution == Execution.WAITING
    assert bench.seen.active is False
    for _ in range(601):
        bench.heat(24.0, 0.0)
    assert bench.seen.execution == Execution.READY


@pytest.mark.parametrize("word", [Waiting("press button"), Action("prompt_begin", "?"), Action("paused", "")])
def test_a_card_job_that_goes_on_needs_no_word_for_it(bench: Bench, word: Any) -> None:
    """Noise made the first word or ate the second: somebody would be called to a machine that works."""
    bench.building()
    bench.said(word)
    bench.place(30_400, 30_800, 31_200)
    assert (bench.seen.execution, bench.seen.waits_for_person) == (Execution.BUILDING, False)


def test_a_wait_at_the_end_of_the_file_is_over_when_it_is_never_said_again(bench: Bench) -> None:
    bench.building()
    bench.place(100_000)
    bench.said(Waiting("press button"))
    for _ in range(598):
        bench.said(CardIdle())
    assert bench.seen.waits_for_person is True
    for _ in range(3):
        bench.said(CardIdle())
    assert bench.seen.waits_for_person is False
    assert bench.jobs() == [("held", 1, "waits for somebody"), ("completed", 1, None)]


def test_a_wait_in_mid_file_is_believed_for_as_long_as_it_takes(bench: Bench) -> None:
    """A job that was held before the weekend still is after it."""
    bench.building()
    bench.said(Waiting("press button"))
    for _ in range(2000):
        bench.said(CardIdle())
    assert bench.seen.waits_for_person is True


def test_not_printing_while_it_waits_is_no_end(bench: Bench) -> None:
    bench.building()
    bench.said(Busy("person"))
    for _ in range(5):
        bench.said(CardIdle())
    assert bench.seen.execution == Execution.WAITING


def test_an_abort_during_a_wait_is_seen_by_the_heaters(bench: Bench) -> None:
    bench.building()
    bench.said(Busy("person"))
    bench.heat(180.0, 0.0)
    bench.said(CardIdle())
    assert bench.jobs()[-1] == ("abandoned", 1, "stopped")


def test_a_banner_in_mid_job_ends_the_job(bench: Bench) -> None:
    bench.building()
    bench.said(Started())
    seen = bench.seen
    assert (seen.restarted_at, seen.restart_broke, seen.reset_cause) == (bench.now, True, None)
    assert seen.execution is Execution.READY
    assert (seen.nozzle.now, seen.nozzle.target, seen.hotend) == (None, None, Hotend.UNKNOWN)
    assert bench.jobs() == [("abandoned", 1, "restarted")]
    assert bench.judge is True
    bench.said(ResetCause("brown-out"))
    assert bench.seen.reset_cause == "brown-out"
    assert [told.facts for told in bench.effects if isinstance(told, Noted)] == [
        {"job_or_heat": "yes"},
        {"cause": "brown-out"},
    ]


def test_a_banner_over_a_hot_idle_nozzle_broke_something_and_over_a_cold_one_nothing(bench: Bench) -> None:
    bench.heat(180.0, 0.0)
    bench.said(Started())
    assert bench.seen.restart_broke is True
    bench.heat(24.0, 0.0)
    bench.wait(60)
    bench.said(Started())
    assert bench.seen.restart_broke is False


@pytest.mark.parametrize("kind", [FaultKind.HALT, FaultKind.RUNAWAY])
def test_a_restart_after_a_halt_breaks_nothing(bench: Bench, kind: FaultKind) -> None:
    """Some restart by themselves once they have halted: people have been told of the halt, and a second message is noise."""
    bench.building()
    bench.said(Fault(kind, "said", "nozzle", halted=True))
    bench.heat(190.0, 0.0)
    bench.said(Started())
    assert bench.seen.restart_broke is False
    assert bench.seen.faults == ()


def test_a_halt_that_is_said_again_at_every_question_keeps_its_cause(bench: Bench) -> None:
    """The cause would be pushed out after minutes, and the halt told as one of its own."""
    bench.building()
    cause = Fault(FaultKind.RUNAWAY, "Heater decoupled during hold", "nozzle")
    stopped = Fault(FaultKind.STOPPED, "Printer stopped")
    bench.said(cause)
    for _ in range(50):
        bench.said(stopped)
    assert [fault for _, fault in bench.seen.faults] == [cause, stopped]


def test_a_banner_that_is_printed_twice_is_one_restart(bench: Bench) -> None:
    bench.building()
    bench.said(Started())
    bench.said(Started())
    assert bench.seen.restart_broke is True


def test_a_banner_right_after_the_link_returns_is_judged_by_what_was_before(bench: Bench) -> None:
    """Opening the port may reset the board: the job that ran before is what it cost."""
    bench.building()
    bench.remark(LinkDown())
    bench.wait(10)
    bench.remark(LinkUp())
    bench.said(Started())
    assert bench.seen.restart_broke is True
    assert bench.jobs() == [("abandoned", 1, "restarted")]


def test_a_halt_ends_the_job_and_stays_until_the_restart(bench: Bench) -> None:
    bench.building()
    runaway = Fault(FaultKind.RUNAWAY, "Error:Thermal Runaway, system stopped! Heater_ID: E0", "nozzle", True)
    bench.said(runaway)
    assert bench.judge is True
    assert bench.seen.execution == Execution.FAULTED
    assert bench.seen.job.ending == "halted"
    assert bench.seen.faults == ((bench.now, runaway),)
    assert bench.jobs() == [("abandoned", 1, "halted")]
    bench.place(31_000)
    bench.place(31_500)
    assert bench.seen.execution == Execution.FAULTED
    bench.said(Started())
    assert bench.seen.execution == Execution.READY
    assert bench.seen.faults == ()


def test_a_machine_that_was_freed_takes_jobs_again(bench: Bench, code: Any) -> None:
    bench.building()
    bench.said(Fault(FaultKind.STOPPED, "Printer stopped due to errors"))
    assert bench.seen.execution == Execution.FAULTED
    bench.taken(code("M999"))
    assert bench.seen.execution == Execution.READY


@pytest.mark.parametrize(
    "word",
    [
        Fault(FaultKind.COLD_EXTRUSION, "echo: cold extrusion prevented"),
        Fault(FaultKind.FAN, "Err:PRINT FAN ERROR"),
        Fault(FaultKind.CARD_READ, "Error:SD read error"),
        Fault(FaultKind.HOMING, "echo:endstops hit: X:12.30"),
        LineFault("Error:checksum mismatch, Last Line: 41"),
    ],
)
def test_a_fault_that_stops_nothing_leaves_the_job_running(bench: Bench, word: Any) -> None:
    bench.building()
    bench.said(word)
    assert bench.seen.execution == Execution.BUILDING
    assert bench.jobs() == []


def test_a_card_error_in_a_loop_keeps_the_newest_thirty_two(bench: Bench) -> None:
    bench.building()
    for _ in range(50):
        bench.said(Fault(FaultKind.CARD_READ, "Error:SD read error"))
    assert len(bench.seen.faults) == 32
    assert bench.seen.faults[-1][0] == bench.now


def test_a_new_job_starts_without_the_faults_of_the_last(bench: Bench) -> None:
    bench.building()
    bench.said(Fault(FaultKind.CARD_READ, "Error:SD read error"))
    bench.said(Action("cancel", ""))
    bench.place(0, 400)
    assert bench.seen.faults == ()


def test_heat_that_stays_after_a_person_was_waited_for_too_long_is_no_heating(bench: Bench) -> None:
    """Some cut the power and leave the target: the nozzle cools although its target says otherwise."""
    bench.building()
    bench.said(Busy("person"))
    for n in range(140):
        bench.said(Temperatures(Reading(max(96.0, 205.0 - n), 205.0, 0), None), Busy("person"))
    assert bench.seen.heating_up is False
    assert bench.seen.execution == Execution.WAITING
    bench.said(Acknowledged())
    assert bench.seen.execution == Execution.WAITING
