"""Card jobs, from the panel or from the host, told by hand-written lines."""

from typing import Any

import pytest

from watchdog.core.observations import (
    Acknowledged,
    Action,
    CardHeld,
    CardIdle,
    CardPresent,
    CardProgress,
    Fault,
    FaultKind,
    FileNamed,
    FileOpened,
    JobDone,
    JobProgress,
    JobStopped,
    Reading,
    Remark,
    Temperatures,
)
from watchdog.core.snapshot import Execution, Origin

Bench = Any  # conftest.Bench: test folders are no packages, so its type cannot be imported


def test_a_job_from_the_panel_is_followed_from_its_choice_to_its_end(bench: Bench) -> None:
    bench.heat(24.0, 0.0)
    bench.said(FileOpened("cleat~1.gco", 100_000))
    bench.place(0)
    assert bench.seen.execution == Execution.READY
    assert bench.seen.chosen_at is not None
    assert bench.seen.active is False
    bench.heat(60.0, 205.0)
    bench.place(420)
    assert bench.seen.execution == Execution.PREPARING
    assert bench.seen.job.file == "cleat~1.gco"
    assert bench.seen.job.size == 100_000
    assert bench.seen.chosen_at is None
    bench.place(420, 420)
    bench.heat(203.0, 205.0)
    bench.place(9_000)
    assert bench.seen.execution == Execution.BUILDING
    assert bench.seen.flow_at == bench.seen.job.moved_at == bench.now
    bench.place(60_000, 100_000, 100_000)
    assert bench.seen.execution == Execution.BUILDING  # the last moves still run
    bench.said(JobDone())
    assert bench.seen.execution == Execution.COMPLETE
    assert bench.seen.job.ending == "completed"
    assert bench.jobs() == [("started", 1, None), ("completed", 1, None)]
    assert bench.states("execution") == ["ready", "preparing", "building", "complete"]


def test_a_job_from_the_host_starts_with_its_command(bench: Bench, code: Any) -> None:
    """The byte may stand still for minutes while the bed warms: the command alone tells that a job runs."""
    bench.heat(24.0, 0.0)
    bench.taken(code("M23", text="oar.gco"))
    bench.said(FileOpened("oar.gco", 55_000))
    bench.taken(code("M24"))
    assert bench.seen.execution == Execution.PREPARING
    assert (bench.seen.job.file, bench.seen.job.size, bench.seen.job.origin) == ("oar.gco", 55_000, Origin.CARD)
    bench.place(0, 0, 0, size=55_000)
    assert bench.jobs() == [("started", 1, None)]
    assert bench.seen.job.moved_at is None


def test_a_job_that_the_panel_queues_is_one_job(bench: Bench, code: Any) -> None:
    """Some panels echo their own commands before the file is opened."""
    bench.heat(24.0, 0.0)
    bench.said(Remark('enqueueing "M23 hull~1.gco"'), code("M23", text="hull~1.gco"))
    bench.said(Remark('enqueueing "M24"'), code("M24"))
    bench.said(FileOpened("hull~1.gco", None))
    bench.said(FileOpened("hull~1.gco", 480_000))
    bench.said(FileNamed("HULL~1.GCO", "hull mould half.gcode"))
    bench.place(300, 9_000, size=480_000)
    assert bench.jobs() == [("started", 1, None)]
    assert (bench.seen.job.file, bench.seen.job.size) == ("hull mould half.gcode", 480_000)
    assert bench.seen.owed_since is None  # what the panel queued was never sent over the wire


def test_a_start_command_with_no_file_known_counts_once_a_file_is_seen(bench: Bench, code: Any) -> None:
    bench.heat(24.0, 0.0)
    bench.taken(code("M24"))
    assert bench.seen.job is None
    bench.place(0)
    assert bench.seen.execution == Execution.PREPARING


def test_a_job_that_already_runs_when_the_watch_starts_is_recognised(bench: Bench) -> None:
    bench.heat(205.0, 205.0)
    bench.place(40_000)
    assert bench.seen.execution == Execution.UNAVAILABLE  # one look tells no movement
    assert bench.seen.active is None
    bench.place(40_600)
    assert bench.jobs() == [("started", 1, None)]
    assert bench.seen.active is True
    assert bench.seen.job.progress == 40_600


def test_a_chosen_file_that_never_moves_is_no_job(bench: Bench) -> None:
    """A hot machine with a chosen file must not count as printing: hot-idle would never be told."""
    bench.heat(205.0, 205.0)
    bench.said(FileOpened("cleat~1.gco", 100_000))
    for _ in range(60):
        bench.place(0)
    assert bench.seen.execution == Execution.READY
    assert bench.seen.job is None
    assert bench.seen.chosen_at is not None


def test_a_mounted_card_without_a_file_is_no_job(bench: Bench) -> None:
    for _ in range(5):
        bench.place(0, size=0)
    assert bench.seen.execution == Execution.READY
    assert bench.seen.job is None
    assert bench.seen.chosen_at is None


def test_a_file_left_open_in_its_middle_is_no_job_until_it_moves(bench: Bench) -> None:
    bench.heat(205.0, 205.0)
    for _ in range(70):
        bench.place(40_000)
        bench.heat(205.0, 205.0)
    assert bench.seen.execution == Execution.READY
    bench.place(40_100)
    assert bench.seen.active is True


def test_a_counter_that_stands_is_a_stall_and_no_hold(bench: Bench) -> None:
    bench.building()
    moved = bench.seen.job.moved_at
    bench.place(*[30_000] * 200)
    assert bench.seen.execution == Execution.BUILDING
    assert bench.seen.job.moved_at == moved
    assert bench.jobs() == []


def test_a_pause_is_held_until_the_counter_moves_again(bench: Bench) -> None:
    bench.building()
    bench.said(Action("paused", ""))
    assert bench.seen.execution == Execution.PAUSED
    held = bench.seen.job.held_since
    bench.place(31_000)  # read before the pause, told after it
    assert bench.seen.execution == Execution.PAUSED
    bench.place(31_000, 31_000)
    bench.place(31_500)
    assert bench.seen.execution == Execution.BUILDING
    assert bench.seen.job.held == bench.now - held
    assert bench.jobs() == [("held", 1, "by command"), ("resumed", 1, None)]


def test_words_resume_a_held_job_at_once(bench: Bench) -> None:
    bench.building()
    bench.said(Action("paused", ""))
    bench.said(Action("resumed", ""))
    assert bench.seen.execution == Execution.BUILDING


def test_a_pause_and_a_resume_commanded_by_the_host_are_seen(bench: Bench, code: Any) -> None:
    bench.building()
    bench.taken(code("M25"))
    assert bench.seen.execution == Execution.PAUSED
    bench.taken(code("M24"))
    assert bench.seen.execution == Execution.BUILDING
    assert bench.jobs() == [("held", 1, "by command"), ("resumed", 1, None)]


@pytest.mark.parametrize("word", [CardHeld(), CardProgress(30_000, 100_000, held=True)])
def test_the_machines_own_word_for_a_hold_is_believed(bench: Bench, word: Any) -> None:
    bench.building()
    bench.said(word)
    assert bench.seen.execution == Execution.PAUSED
    bench.place(30_000, 30_400)
    assert bench.seen.execution == Execution.BUILDING


def test_a_held_job_that_was_there_before_the_watch_is_a_held_job(bench: Bench) -> None:
    bench.said(CardProgress(30_000, 100_000, held=True))
    assert bench.seen.execution == Execution.PAUSED
    assert bench.seen.active is True
    assert bench.jobs() == [("started", 1, None), ("held", 1, "by command")]


def test_a_target_that_is_shown_as_held_holds_the_job(bench: Bench) -> None:
    """Some controllers tell a pause only by a negative target."""
    bench.building()
    bench.said(Temperatures(Reading(190.0, 0.0), None, paused_target=205.0))
    assert bench.seen.execution == Execution.PAUSED
    bench.said(Temperatures(Reading(200.0, 205.0), None))
    assert bench.seen.execution == Execution.BUILDING


def test_the_full_count_is_not_the_end_but_not_printing_after_it_is(bench: Bench) -> None:
    bench.building()
    bench.place(100_000, 100_000)
    assert bench.seen.active is True
    bench.said(CardIdle())
    assert bench.seen.execution == Execution.COMPLETE
    bench.said(JobDone())  # the word comes late
    bench.said(CardIdle())
    assert bench.jobs() == [("completed", 1, None)]


def test_a_tail_of_settings_is_read_at_once_and_the_job_still_completes(bench: Bench) -> None:
    bench.building()
    bench.place(85_000)
    bench.said(CardIdle())
    assert bench.jobs() == [("completed", 1, None)]


def test_not_printing_in_mid_file_is_believed_when_it_is_said_again(bench: Bench) -> None:
    bench.building()
    bench.place(31_000)
    bench.said(CardIdle())
    assert bench.seen.active is True
    assert bench.seen.job.running is False
    bench.said(CardIdle())
    assert bench.seen.execution == Execution.STOPPED
    assert bench.jobs() == [("abandoned", 1, "stopped")]


def test_the_word_of_completion_between_two_such_answers_wins(bench: Bench) -> None:
    bench.building()
    bench.place(31_000)
    bench.said(CardIdle())
    bench.said(JobDone())
    assert bench.jobs() == [("completed", 1, None)]


def test_not_printing_with_the_heaters_off_ends_the_job_at_once(bench: Bench) -> None:
    bench.building()
    bench.place(31_000)
    bench.heat(200.0, 0.0)
    bench.said(CardIdle())
    assert bench.jobs() == [("abandoned", 1, "stopped")]


@pytest.mark.parametrize("word", [Action("cancel", ""), JobStopped()])
def test_a_word_of_cancellation_ends_the_job_at_once(bench: Bench, word: Any) -> None:
    bench.building()
    bench.said(word)
    assert bench.seen.execution == Execution.STOPPED
    assert bench.jobs() == [("abandoned", 1, "stopped")]


def test_an_abort_commanded_by_the_host_ends_the_job(bench: Bench, code: Any) -> None:
    bench.building()
    bench.taken(code("M524"))
    assert bench.jobs() == [("abandoned", 1, "stopped")]


def test_a_card_that_is_pulled_ends_its_job(bench: Bench) -> None:
    bench.building()
    bench.said(CardPresent(False))
    assert bench.seen.card_gone_at == bench.now
    assert bench.jobs() == [("abandoned", 1, "card gone")]
    assert bench.seen.execution == Execution.STOPPED


def test_a_card_that_is_pulled_from_an_idle_machine_is_nothing(bench: Bench) -> None:
    bench.heat(24.0, 0.0)
    bench.said(CardPresent(False))
    assert bench.seen.card_gone_at is None
    assert bench.jobs() == []


def test_a_counter_that_runs_back_within_the_job_is_marked_and_goes_on(bench: Bench) -> None:
    bench.building()
    bench.place(12_000)
    assert bench.seen.byte_fell_at is None  # one damaged line may say so too
    bench.place(12_400)
    assert bench.seen.byte_fell_at == bench.now
    assert bench.seen.active is True
    assert bench.jobs() == []


def test_another_size_is_another_job(bench: Bench) -> None:
    bench.building()
    bench.place(300, 700, size=44_000)
    assert bench.jobs() == [("abandoned", 1, "left for another"), ("started", 2, None)]
    assert bench.seen.job.size == 44_000
    assert bench.seen.job.file is None
    assert bench.seen.byte_fell_at is None


def test_a_called_file_has_its_own_size_and_is_the_same_job(bench: Bench) -> None:
    bench.building()
    bench.said(Remark('echo:SUBROUTINE CALL target:"park.g" parent:"hull.gco" pos30000'))
    bench.place(20, 400, size=900)
    assert bench.seen.job.moved_at == bench.now
    bench.said(Remark("echo:END SUBROUTINE"))
    bench.place(30_100, 30_900)
    assert bench.jobs() == []
    assert bench.seen.job.progress == 30_900
    assert bench.seen.byte_fell_at is None


@pytest.mark.parametrize("second", [150, 400, 9_000])
def test_a_fall_to_the_start_in_mid_job_is_another_job(bench: Bench, second: int) -> None:
    bench.building()
    bench.place(150, second)
    assert bench.jobs() == [("abandoned", 1, "left for another"), ("started", 2, None)]


def test_the_same_file_again_after_its_end_is_another_job(bench: Bench) -> None:
    bench.building()
    bench.place(100_000)
    bench.said(JobDone())
    bench.place(100_000)
    assert bench.seen.execution == Execution.COMPLETE
    bench.place(0)
    assert bench.seen.execution == Execution.READY  # chosen, not started
    bench.place(700)
    assert bench.jobs() == [("completed", 1, None), ("started", 2, None)]


def test_a_file_that_starts_over_without_a_word_completes_the_one_that_was_full(bench: Bench) -> None:
    bench.building()
    bench.place(100_000, 200, 600)
    assert bench.jobs() == [("completed", 1, None), ("started", 2, None)]


@pytest.mark.parametrize(
    ("byte", "size"),
    [(30_400, 10_000), (30_400, 1_000_000), (300, 100), (3_040, 100_000), (0, 100_000), (304, 100_000)],
)
def test_one_damaged_report_neither_ends_a_job_nor_marks_it(bench: Bench, byte: int, size: int) -> None:
    """A digit lost on a noisy cable would end the job in the record, start another, and blame the card."""
    bench.building()
    bench.place(byte, size=size)
    bench.place(30_800, 31_200)
    bench.place(byte, size=size)
    bench.place(31_600)
    assert bench.jobs() == []
    assert (bench.seen.job.size, bench.seen.job.progress) == (100_000, 31_600)
    assert bench.seen.byte_fell_at is None


def test_two_damaged_reports_that_differ_bear_nothing_out(bench: Bench) -> None:
    bench.building()
    bench.place(3_040, size=10_000)
    bench.place(3_080, size=10_001)
    bench.place(31_200)
    assert bench.jobs() == []


def test_a_leap_ahead_and_back_is_a_damaged_report_and_no_fall(bench: Bench) -> None:
    bench.building()
    bench.place(36_200, 31_800, 32_200, 93_040, 32_600, 33_000)
    assert bench.jobs() == []
    assert bench.seen.byte_fell_at is None
    assert bench.seen.job.progress == 33_000
    bench.said(CardIdle())
    assert bench.seen.active is True  # no step of that leap brings the end near


def test_a_counter_that_stands_and_is_misread_once_has_not_fallen(bench: Bench) -> None:
    bench.building()
    bench.place(30_000, 30_004, 30_000, 30_000)
    assert bench.seen.byte_fell_at is None


def test_a_fall_after_a_leap_of_its_own_is_a_fall(bench: Bench) -> None:
    bench.building()
    bench.place(60_000, 45_000, 45_400)
    assert bench.seen.byte_fell_at == bench.now


def test_a_damaged_report_of_a_job_that_is_over_starts_none(bench: Bench) -> None:
    bench.building()
    bench.place(100_000)
    bench.said(JobDone())
    bench.place(100_000, 10_000, 100_000)
    bench.place(1_000, size=10_000)
    bench.place(100_000)
    assert bench.jobs() == [("completed", 1, None)]


def test_one_damaged_report_after_a_blind_time_loses_no_job(bench: Bench) -> None:
    bench.building()
    bench.blind(30)
    bench.place(304, 30_800, 31_200)
    assert bench.jobs() == []
    assert bench.seen.active is True


def test_a_choice_of_another_file_leaves_the_running_one(bench: Bench, code: Any) -> None:
    bench.building()
    bench.said(FileOpened("other.gco", 44_000))
    assert bench.jobs() == [("abandoned", 1, "left for another")]
    assert bench.seen.chosen_at == bench.now


def test_a_job_warms_up_before_it_builds_and_never_goes_back(bench: Bench) -> None:
    bench.heat(24.0, 0.0)
    bench.place(0, 300)
    bench.heat(120.0, 205.0)
    bench.place(900)
    assert bench.seen.execution == Execution.PREPARING
    assert bench.seen.heating_up is True
    bench.warm()
    bench.place(2_000)
    assert bench.seen.execution == Execution.BUILDING
    bench.heat(205.0, 230.0)
    bench.place(2_500)
    assert bench.seen.execution == Execution.BUILDING
    assert bench.seen.heating_up is True


def test_a_probing_heat_below_melting_builds_nothing(bench: Bench) -> None:
    bench.place(0)
    bench.heat(140.0, 140.0)
    bench.place(500, 900, 1_400)
    assert bench.seen.execution == Execution.PREPARING


def test_a_job_whose_heat_is_never_told_builds_after_a_while(bench: Bench) -> None:
    bench.place(0, 500)
    bench.wait(70)
    bench.place(900)
    assert bench.seen.execution == Execution.BUILDING


def test_the_percentage_moves_and_its_first_estimate_is_the_expectation(bench: Bench) -> None:
    bench.building()
    bench.said(JobProgress(40.0, 1800.0))
    first = bench.seen.job
    assert first.moved_at == bench.now
    assert (first.percent, first.left, first.expected_by) == (40.0, 1800.0, "machine")
    bench.said(JobProgress(40.0, 1700.0))
    assert bench.seen.job.moved_at == first.moved_at
    assert bench.seen.job.expected == first.expected == 1800.0 + first.left_at - first.started


def test_a_file_that_cannot_be_opened_is_not_chosen(bench: Bench, code: Any) -> None:
    bench.heat(24.0, 0.0)
    bench.taken(code("M23", text="gone.gco"))
    assert bench.seen.chosen_at is not None
    bench.said(Fault(FaultKind.CARD_OPEN, "open failed, File: gone.gco."))
    assert bench.seen.chosen_at is None


def test_an_acknowledgement_says_nothing_about_the_card(bench: Bench) -> None:
    bench.building()
    bench.said(Acknowledged())
    assert bench.seen.execution == Execution.BUILDING
    assert bench.jobs() == []
