"""What is expected of a running job: by its plan, and by what is left when there is none."""

from collections.abc import Callable
from dataclasses import replace
from math import inf, isclose
from typing import Any

from watchdog.core.detectors import job_late
from watchdog.core.expectation import Between, History, Past, forecast, prospect
from watchdog.core.moment import Moment
from watchdog.core.snapshot import Execution, Heater, Hotend, Job, Link, Origin, Snapshot, Source

Running = Callable[..., Job]
PlannedFor = Callable[..., Any]

YOUNG = History()
SLOW_BY_A_TENTH = History(tuple(Past(1.1 * 7200.0 + nth, 0.0, 7200.0) for nth in range(-20, 20)))


def at(elapsed: float) -> Moment:
    return Moment(elapsed, 1_790_000_000.0 + elapsed - 1000.0)


# ---------------------------------------------------------------- by the plan


def test_a_machine_without_a_history_is_given_a_quarter_and_five_minutes(running: Running, planned: PlannedFor) -> None:
    told = forecast(at(1000.0), running(progress=0), prospect(YOUNG, planned(7200.0)))
    assert told is not None
    assert told.by == "plan"
    assert told.left == Between(7200 / 1.25, 7200, 1.25 * 7200 + 300)
    assert (told.total, told.late) == (7200, 1.25 * 7200 + 300)
    assert not told.ratio.by_ranks


def test_progress_is_told_in_planned_seconds_and_the_finish_as_a_stamp(running: Running, planned: PlannedFor) -> None:
    told = forecast(
        at(1000.0 + 1800.0), running(progress=2500, building_since=1010.0), prospect(YOUNG, planned(7200.0))
    )
    assert told is not None
    assert (told.done, told.share) == (1800, 0.25)
    assert isclose(told.left.middle, 5400)
    assert isclose(told.finish.middle, 1_790_000_000 + 7200)
    assert told.finish.low < told.finish.middle < told.finish.high
    assert isclose(told.total, 7200)


def test_a_machine_that_takes_a_tenth_more_is_expected_to_do_so_again(running: Running, planned: PlannedFor) -> None:
    told = forecast(at(1000.0), running(progress=0), prospect(SLOW_BY_A_TENTH, planned(3600.0)))
    assert told is not None
    assert told.ratio.by_ranks
    assert isclose(told.left.middle, 1.1 * 3600, rel_tol=1e-3)
    assert told.left.high < 1.11 * 3600


def test_waiting_for_heat_is_counted_apart_from_work(running: Running, planned: PlannedFor) -> None:
    """A bed that takes its time must not make the whole job look slow."""
    plan = planned(7200.0, heat=400.0)
    heating = forecast(at(1000.0 + 150.0), running(progress=100, heating=150.0), prospect(YOUNG, plan))
    assert heating is not None
    assert isclose(heating.left.middle, 250 + 7200 - 72)
    built = running(progress=5000, heating=900.0, building_since=1900.0)
    late_heat = forecast(at(1000.0 + 900.0 + 3600.0), built, prospect(YOUNG, plan))
    assert late_heat is not None
    assert isclose(late_heat.left.middle, 3600)  # the pace is that of the work alone
    assert late_heat.late == 1.25 * 7200 + 300 + 900


def test_a_hold_neither_counts_as_time_taken_nor_moves_the_time_left(running: Running, planned: PlannedFor) -> None:
    job = running(progress=5000, building_since=1000.0, held=100.0, held_since=1000.0 + 3700.0)
    earlier, later = (forecast(at(elapsed), job, prospect(YOUNG, planned(7200.0))) for elapsed in (4700.0, 9000.0))
    assert earlier is not None
    assert later is not None
    assert isclose(earlier.left.middle, 3600)
    assert later.left == earlier.left
    assert (later.total, later.late) == (earlier.total, earlier.late)
    assert isclose(later.finish.middle - earlier.finish.middle, 4300)  # it will end the later, the later it goes on


def test_a_job_that_runs_slower_than_any_before_is_believed_before_its_end(
    running: Running, planned: PlannedFor
) -> None:
    """Somebody turned the speed down to 60 %: after a third of it the finish must not be an hour too early."""
    job = running(progress=3333, building_since=1000.0)
    told = forecast(at(1000.0 + 2400.0 / 0.6), job, prospect(SLOW_BY_A_TENTH, planned(7200.0)))
    assert told is not None
    truth = 4800 / 0.6
    assert 0.9 * truth < told.left.middle <= truth * 1.01
    assert told.late is not None
    assert told.late < 7200 / 0.6  # the bound for job-late does not give way to the job's own pace


def test_the_stall_limit_is_the_plans_stretch_at_this_machines_pace(running: Running, planned: PlannedFor) -> None:
    slow = forecast(at(1500.0), running(progress=100), prospect(SLOW_BY_A_TENTH, planned(still=90.0)))
    assert slow is not None
    assert slow.stall_limit is not None
    assert isclose(slow.stall_limit, 99.0, rel_tol=1e-3)
    quick = forecast(
        at(1500.0), running(progress=100), prospect(History((Past(3600.0, 0.0, 7200.0),) * 20), planned(still=90.0))
    )
    assert quick is not None
    assert quick.stall_limit == 90.0
    person = forecast(at(1500.0), running(progress=100), prospect(YOUNG, planned(still=inf)))
    assert person is not None
    assert person.stall_limit == 86400.0
    unseen = forecast(at(1500.0), running(), prospect(YOUNG, planned(still=90.0)))
    assert unseen is not None
    assert unseen.stall_limit is None


def test_before_any_progress_is_told_the_clock_alone_counts(running: Running, planned: PlannedFor) -> None:
    told = forecast(at(1600.0), running(), prospect(YOUNG, planned(7200.0)))
    assert told is not None
    assert (told.done, told.share) == (None, None)
    assert told.left.middle == 6600


def test_a_streamed_job_counts_the_planned_seconds_of_its_lines(running: Running, planned: PlannedFor) -> None:
    """Its progress is in lines, which must never be read as bytes."""
    job = running(origin=Origin.STREAMED, size=None, progress=5000)
    blind = forecast(at(1600.0), job, prospect(YOUNG, planned(7200.0)))
    seen = forecast(at(1600.0), job, prospect(YOUNG, planned(7200.0)), seen=600.0)
    assert blind is not None
    assert seen is not None
    assert (blind.done, seen.done) == (None, 600.0)
    assert isclose(seen.left.middle, 6600)


# ---------------------------------------------------------------- without a plan


def test_without_a_plan_the_first_word_that_is_known_counts(running: Running) -> None:
    usual = History((Past(5000.0, 200.0, size=10_000),) * 3)
    tells = running(left=4000.0, left_at=1500.0, percent=20.0)
    expected = [
        (forecast(at(1600.0), tells, prospect(usual), stated=6000.0, operator=7000.0), "machine", 3900.0),
        (forecast(at(1600.0), running(), prospect(usual), stated=6000.0, operator=7000.0), "file", 5400.0),
        (forecast(at(1600.0), running(), prospect(usual), operator=7000.0), "operator", 6400.0),
        (forecast(at(1600.0), running(), prospect(usual)), "history", 4600.0),
    ]
    for told, by, left in expected:
        assert told is not None
        assert (told.by, told.left.middle) == (by, left)
        assert (told.late is None) == (by == "machine")
    assert forecast(at(1600.0), running(), prospect(YOUNG)) is None
    assert forecast(at(1600.0), running(size=999), prospect(usual)) is None
    assert forecast(at(1600.0), running(size=None), prospect(History((Past(5000.0, 0.0),)))) is None


def test_what_is_no_duration_is_no_word(running: Running) -> None:
    for nonsense in (0.0, -5.0, inf, float("nan")):
        assert forecast(at(1600.0), running(), prospect(YOUNG), stated=nonsense, operator=nonsense) is None


def test_a_job_that_outlasts_the_word_of_the_operator_is_not_said_to_be_done(running: Running) -> None:
    told = forecast(at(1000.0 + 90_000.0), running(), prospect(YOUNG), operator=7000.0)
    assert told is not None
    assert told.left == Between(0, 0, 300)


def test_a_job_that_has_ended_has_nothing_left(running: Running, planned: PlannedFor) -> None:
    ended = running(ended=5000.0, ending="completed", progress=10_000)
    assert forecast(at(6000.0), ended, prospect(YOUNG, planned())) is None


# ---------------------------------------------------------------- as the detectors use it


def test_a_healthy_job_is_not_late_and_a_crawling_one_is_before_its_end(running: Running, planned: PlannedFor) -> None:
    def late_at(slower: float) -> float | None:
        memory = job_late.Memory()
        for done in range(0, 10_001, 50):
            now = 1000.0 + slower * 7200 * done / 10_000
            job = running(progress=done, building_since=1000.0)
            told = forecast(at(now), job, prospect(SLOW_BY_A_TENTH, planned(7200.0)))
            assert told is not None
            job = replace(job, expected=told.total, expected_by=told.by, expected_late=told.late)
            heat = Heater(205.0, 205.0, at=now)
            seen = Snapshot(
                at=now, stamp=now, source=Source.SERIAL, link=Link.AVAILABLE, link_since=0.0,
                execution=Execution.BUILDING, execution_since=1000.0, hotend=Hotend.HOT, sighted_since=0.0, melts_at=150.0,
                nozzle=heat, bed=heat, job=job, active=True, heating_up=False, heard=now, owed_since=None, unanswered=0,
                rhythm=None, blocking_since=None, waits_for_person=False, waits_since=None, wait_planned=False,
                flow_at=now, flowed=0.0, fed_in_place=0.0, restarted_at=None, reset_cause=None, restart_broke=False,
                faults=(), resends=0, lines_sent=0, byte_fell_at=None, card_gone_at=None, heat_when_lost=True,
                chosen_at=None,
            )  # fmt: skip
            memory, found = job_late.observe(job_late.Limits(), memory, seen)
            if found.present:
                return now - 1000.0
        return None

    assert late_at(1.1) is None
    crawling = late_at(1.6)
    assert crawling is not None
    assert 1.1 * 7200 < crawling < 1.2 * 7200
