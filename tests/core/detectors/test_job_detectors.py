"""Job not started, job stalled, job late, waiting for a person: when each is told, and what it must let pass."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from watchdog.core.detectors import job_late, job_not_started, job_stalled, waiting_for_person
from watchdog.core.patience import ENOUGH
from watchdog.core.snapshot import Execution, Heater, Job, Link, Origin, Snapshot, Usual

Seen = Callable[..., Snapshot]
Watched = Callable[..., Any]


def told_at(watch: Any, *snapshots: Snapshot) -> float | None:
    return next((snapshot.at for snapshot in snapshots if watch.see(snapshot).present), None)


# ---------------------------------------------------------------- job not started


def chosen(seen: Seen, at: float, **changes: Any) -> Snapshot:
    """A file was chosen at 100 s; the nozzle was asked for heat at once."""
    nozzle = Heater(205.0, 205.0, 71, 127, at, 204.9, at - 2, target_since=110.0)
    return seen(at=at, **{"nozzle": nozzle, "execution": Execution.READY, "job": None, "chosen_at": 100.0, **changes})


def test_a_chosen_job_that_stays_at_its_start_with_the_heat_reached_is_told_after_three_minutes(
    seen: Seen, watched: Watched
) -> None:
    """After a card swap some controllers take the start and read nothing."""
    watch = watched(job_not_started)
    assert told_at(watch, *(chosen(seen, float(at)) for at in range(200, 600))) == 380
    assert watch.see(chosen(seen, 600.0)).evidence["stands_for_s"] == 400


@pytest.mark.parametrize(
    "changes",
    [
        {"chosen_at": None},
        {"nozzle": Heater(150.0, 205.0, 127, 127, 500.0, 149.0, 498.0, 110.0)},
        {"bed": (40.0, 60.0)},
        {"bed": (40.0, None), "heating_up": True},
        {"nozzle": Heater(24.0, 0.0, 0, 127, 500.0, 24.0, 498.0, 110.0)},
        {"nozzle": Heater(205.0, 205.0, 71, 127, 500.0, 204.9, 498.0, 5000.0)},
        {"waits_for_person": True},
    ],
    ids=[
        "nothing chosen",
        "nozzle heats",
        "bed heats",
        "bed heats and names no target",
        "no heat",
        "heat for something else later",
        "asks for somebody",
    ],
)
def test_what_is_no_forgotten_start(seen: Seen, watched: Watched, changes: dict[str, Any]) -> None:
    watch = watched(job_not_started)
    assert told_at(watch, *(chosen(seen, float(at), **changes) for at in range(200, 1200, 5))) is None


def test_a_job_that_begins_brings_not_started_back(seen: Seen, watched: Watched) -> None:
    watch = watched(job_not_started)
    assert told_at(watch, *(chosen(seen, float(at)) for at in range(200, 500))) is not None
    assert watch.see(seen(at=501.0)).present is False
    assert watch.memory == job_not_started.Memory()


def test_a_started_job_whose_counter_never_leaves_the_start_is_told(seen: Seen, watched: Watched, job: Job) -> None:
    stuck = replace(job, started=100.0, progress=0, moved_at=None, building_since=None)
    frames = [seen(at=float(at), execution=Execution.PREPARING, job=stuck) for at in range(200, 600)]
    assert told_at(watched(job_not_started), *frames) == 380
    moving = [seen(at=float(at), execution=Execution.PREPARING) for at in range(200, 600)]
    assert told_at(watched(job_not_started), *moving) is None


def test_not_started_waits_for_sight(seen: Seen, watched: Watched) -> None:
    watch = watched(job_not_started)
    watch.see(chosen(seen, 200.0))
    kept = watch.memory
    assert watch.see(chosen(seen, 600.0, link=Link.UNAVAILABLE)).present is None
    assert watch.see(chosen(seen, 600.0, nozzle=Heater())).present is None
    assert watch.memory is kept
    assert watch.see(chosen(seen, 601.0, sighted_since=590.0)).present is False


# ---------------------------------------------------------------- job stalled


def still(seen: Seen, job: Job, at: float, **changes: Any) -> Snapshot:
    """The counter last moved at 1000 s."""
    return seen(at=at, **{"job": replace(job, moved_at=1000.0), **changes})


def test_a_job_that_stands_still_is_told_after_five_minutes_without_a_plan(
    seen: Seen, watched: Watched, job: Job
) -> None:
    watch = watched(job_stalled)
    assert told_at(watch, *(still(seen, job, 1000.0 + at) for at in range(600))) == 1300
    assert watch.see(still(seen, job, 1650.0)).evidence["still_for_s"] == 650


def test_the_plans_slowest_stretch_sets_the_limit(seen: Seen, watched: Watched, job: Job) -> None:
    planned = replace(job, moved_at=1000.0, stall_limit=400.0)
    assert told_at(watched(job_stalled), *(seen(at=1000.0 + at, job=planned) for at in range(900))) == 1660


def test_progress_brings_a_stall_back(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(job_stalled)
    assert told_at(watch, *(still(seen, job, 1000.0 + at) for at in range(400))) is not None
    assert watch.answers(seen(at=1401.0), seen(at=1402.0)) == [False, False]


@pytest.mark.parametrize(
    "changes",
    [
        {"heating_up": True},
        {"execution": Execution.PAUSED},
        {"execution": Execution.WAITING, "waits_for_person": True},
    ],
    ids=["heats up", "paused", "waits"],
)
def test_stillness_with_a_reason_is_no_stall(seen: Seen, watched: Watched, job: Job, changes: dict[str, Any]) -> None:
    watch = watched(job_stalled)
    assert told_at(watch, *(still(seen, job, 1000.0 + at, **changes) for at in range(0, 1500, 5))) is None
    # and it counts from the end of that reason on
    assert told_at(watch, *(still(seen, job, 2500.0 + at) for at in range(290))) is None


@pytest.mark.parametrize("execution", [Execution.READY, Execution.COMPLETE, Execution.STOPPED, Execution.FAULTED])
def test_without_an_active_job_nothing_stalls(seen: Seen, watched: Watched, job: Job, execution: Execution) -> None:
    watch = watched(job_stalled)
    assert told_at(watch, *(still(seen, job, 1000.0 + at, execution=execution) for at in range(0, 1500, 5))) is None


def test_a_command_that_may_take_long_is_counted_from_its_own_start(seen: Seen, watched: Watched, job: Job) -> None:
    """Probing a large bed takes minutes and moves no counter."""
    frames = [still(seen, job, 1000.0 + at, blocking_since=1200.0) for at in range(600)]
    assert told_at(watched(job_stalled), *frames) == 1500


def test_a_silent_machine_is_not_called_stalled(seen: Seen, watched: Watched, job: Job) -> None:
    """Nobody can tell; and at its first word the counter has not been asked for yet."""
    watch = watched(job_stalled)
    silent = [still(seen, job, 1000.0 + at, heard=1001.0) for at in range(25, 600)]
    assert set(watch.answers(*silent)) == {None}
    assert watch.see(still(seen, job, 1600.0)).present is False


def test_a_told_stall_stays_told_over_silence_and_a_restart_of_the_watch(
    seen: Seen, watched: Watched, job: Job
) -> None:
    """An all-clear that only means 'I have just begun to look' sends the teacher back to the lesson."""
    watch = watched(job_stalled)
    assert told_at(watch, *(still(seen, job, 1000.0 + at) for at in range(400))) is not None
    assert watch.see(still(seen, job, 1440.0, heard=1399.0)).present is None
    assert watch.see(still(seen, job, 1500.0, sighted_since=1499.0)).present is True


def test_a_bed_without_temperatures_may_heat(seen: Seen, watched: Watched, job: Job) -> None:
    frames = [still(seen, job, 1400.0, heating_up=None, execution=Execution.PREPARING)]
    assert watched(job_stalled).answers(*frames) == [None]
    assert watched(job_stalled).see(still(seen, job, 1400.0, active=None)).present is None


def test_a_percentage_may_take_as_long_as_its_step(seen: Seen, watched: Watched, job: Job) -> None:
    """One percent of a ten-hour job is six minutes: longer than the limit for bytes."""
    slow = replace(job, progress=None, percent=42.0, expected=36000.0, moved_at=1000.0)
    assert told_at(watched(job_stalled), *(seen(at=1000.0 + at, job=slow) for at in range(1500))) == 1780


# ---------------------------------------------------------------- job late


def running(seen: Seen, job: Job, at: float, **changes: Any) -> Snapshot:
    return seen(at=at, job=replace(job, **{"expected": 3600.0, "expected_by": "operator", **changes}))


def test_a_job_is_late_past_its_expectation_with_margin(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(job_late)
    assert watch.answers(running(seen, job, 4799.0), running(seen, job, 4800.0)) == [False, True]
    assert watch.see(running(seen, job, 4801.0)).evidence["bound_s"] == 4800


def test_a_given_upper_bound_is_taken_as_it_is(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(job_late)
    bound = {"expected_late": 4000.0}
    assert watch.answers(running(seen, job, 3999.0, **bound), running(seen, job, 4000.0, **bound)) == [False, True]


def test_held_time_makes_no_job_late(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(job_late)
    assert watch.see(running(seen, job, 5000.0, held=300.0)).present is False
    assert watch.see(running(seen, job, 9000.0, held=300.0, held_since=5000.0)).present is False
    assert watch.see(running(seen, job, 9100.0, held=4300.0)).present is True


def test_late_ends_with_the_job_or_with_a_longer_expectation(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(job_late)
    assert watch.see(running(seen, job, 4900.0)).present is True
    assert watch.see(running(seen, job, 4910.0, expected=3700.0)).present is True  # a little more is not enough
    assert watch.see(running(seen, job, 4920.0, expected=7200.0)).present is False
    assert watch.see(running(seen, job, 10000.0, expected=7200.0)).present is True
    assert watch.see(seen(at=10001.0, execution=Execution.COMPLETE)).present is False


def test_without_an_expectation_nobody_can_tell(seen: Seen, watched: Watched, job: Job) -> None:
    assert watched(job_late).see(running(seen, job, 99999.0, expected=None)).present is None
    assert watched(job_late).see(running(seen, job, 99999.0)).present is True
    assert watched(job_late).see(seen(at=1.0, execution=Execution.UNAVAILABLE)).present is None


# ---------------------------------------------------------------- waiting for a person


def asking(seen: Seen, at: float, **changes: Any) -> Snapshot:
    waiting = {"execution": Execution.WAITING, "waits_for_person": True, "waits_since": 1000.0}
    return seen(at=at, **{**waiting, **changes})


def test_an_unplanned_wait_is_told_at_once(seen: Seen, watched: Watched) -> None:
    assert watched(waiting_for_person).see(asking(seen, 1000.0)).present is True


def test_a_planned_wait_is_told_after_two_minutes(seen: Seen, watched: Watched) -> None:
    watch = watched(waiting_for_person)
    assert told_at(watch, *(asking(seen, 1000.0 + at, wait_planned=True) for at in range(300))) == 1120
    assert watch.see(seen(at=1301.0)).present is False


def test_a_pause_by_command_is_a_planned_wait(seen: Seen, watched: Watched) -> None:
    paused = {"execution": Execution.PAUSED, "execution_since": 1000.0}
    assert told_at(watched(waiting_for_person), *(seen(at=1000.0 + at, **paused) for at in range(300))) == 1120


def test_a_pause_counts_from_its_beginning_also_after_a_blind_time(seen: Seen, watched: Watched, job: Job) -> None:
    """Else the message would be taken back at the first look, and come again two minutes later."""
    held = replace(job, held_since=1000.0)
    frame = seen(at=1500.0, execution=Execution.PAUSED, execution_since=1490.0, sighted_since=1490.0, job=held)
    assert watched(waiting_for_person).see(frame).present is True


def test_a_wait_that_cannot_be_seen_cannot_be_told(seen: Seen, watched: Watched) -> None:
    assert watched(waiting_for_person).see(asking(seen, 1300.0, heard=1200.0)).present is None
    assert watched(waiting_for_person).see(asking(seen, 1300.0, link=Link.UNAVAILABLE)).present is None


def test_a_streamed_job_is_watched_like_a_card_job(seen: Seen, watched: Watched, job: Job) -> None:
    streamed = replace(job, origin=Origin.STREAMED, size=None, moved_at=1000.0)
    assert told_at(watched(job_stalled), *(seen(at=1000.0 + at, job=streamed) for at in range(400))) == 1300


# ---------------------------------------------------------------- on both sides of each condition


@pytest.mark.parametrize(("asked", "told"), [(700.0, True), (701.0, False)])
def test_heat_belongs_to_the_choice_for_ten_minutes(seen: Seen, watched: Watched, asked: float, told: bool) -> None:
    watch = watched(job_not_started)
    frames = (
        chosen(seen, float(at), nozzle=Heater(205.0, 205.0, 71, 127, float(at), 204.9, at - 2.0, asked))
        for at in range(800, 1100, 5)
    )
    assert (told_at(watch, *frames) is not None) is told


@pytest.mark.parametrize(("nozzle", "told"), [((195.0, 205.0), True), ((194.0, 205.0), False)])
def test_ten_degrees_short_the_heat_is_there(
    seen: Seen, watched: Watched, nozzle: tuple[float, float], told: bool
) -> None:
    watch = watched(job_not_started)
    frames = (chosen(seen, float(at), nozzle=nozzle, bed=Heater()) for at in range(200, 600, 5))
    assert (told_at(watch, *frames) is not None) is told


@pytest.mark.parametrize(
    "changes",
    [
        {"origin": Origin.STREAMED},
        {"progress": 512},
        {"progress": None},
        {"moved_at": 150.0},
        {"ended": 190.0},
    ],
    ids=["streamed", "has read something", "counter not told", "moved before", "over"],
)
def test_which_job_is_no_forgotten_start(seen: Seen, watched: Watched, job: Job, changes: dict[str, Any]) -> None:
    stuck = replace(job, **{"started": 100.0, "progress": 0, "moved_at": None, "building_since": None, **changes})
    frames = [seen(at=float(at), execution=Execution.PREPARING, job=stuck) for at in range(200, 600, 5)]
    assert told_at(watched(job_not_started), *frames) is None


@pytest.mark.parametrize("execution", [Execution.BUILDING, Execution.READY])
def test_a_counter_at_the_start_is_looked_at_while_preparing_only(
    seen: Seen, watched: Watched, job: Job, execution: Execution
) -> None:
    stuck = replace(job, started=100.0, progress=0, moved_at=None)
    frames = [seen(at=float(at), execution=execution, job=stuck) for at in range(200, 600, 5)]
    assert told_at(watched(job_not_started), *frames) is None


def test_whether_something_is_chosen_needs_sight(seen: Seen, watched: Watched) -> None:
    assert watched(job_not_started).see(seen(at=1000.0, heard=900.0)).present is None
    unknown = Heater(205.0, None, 71, 127, 1000.0)
    assert watched(job_not_started).see(chosen(seen, 1000.0, nozzle=unknown)).present is None


def test_a_stall_that_was_told_is_that_jobs_own(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(job_stalled)
    assert told_at(watch, *(still(seen, job, 1000.0 + at) for at in range(400))) is not None
    following = replace(job, number=2, started=1390.0, moved_at=None, building_since=None)
    assert watch.see(seen(at=1400.0, job=following)).present is False
    assert watched(job_stalled).see(seen(at=1000.0, heard=900.0, active=False)).present is False


def test_a_job_that_builds_without_telling_temperatures_can_stall(seen: Seen, watched: Watched, job: Job) -> None:
    assert watched(job_stalled).see(still(seen, job, 1400.0, heating_up=None)).present is True


@pytest.mark.parametrize(
    ("changes", "present"),
    [
        ({"heard": 1380.0, "rhythm": None}, None),
        ({"heard": 1381.0, "rhythm": None}, True),
        ({"heard": 1350.0, "rhythm": 20.0}, True),
        ({"heard": 1340.0, "rhythm": 20.0}, None),
        ({"heard": None}, None),
        ({"link": Link.UNAVAILABLE}, None),
    ],
)
def test_a_stall_needs_a_machine_that_speaks(
    seen: Seen, watched: Watched, job: Job, changes: dict[str, Any], present: bool | None
) -> None:
    assert watched(job_stalled).see(still(seen, job, 1400.0, **changes)).present is present


def test_bytes_count_more_than_a_percentage(seen: Seen, watched: Watched, job: Job) -> None:
    both = replace(job, percent=42.0, expected=36000.0, moved_at=1000.0)
    assert told_at(watched(job_stalled), *(seen(at=1000.0 + at, job=both) for at in range(900))) == 1300
    begun = replace(job, progress=None, percent=0.0, expected=36000.0, moved_at=1000.0)
    assert told_at(watched(job_stalled), *(seen(at=1000.0 + at, job=begun) for at in range(900))) == 1300


def test_late_needs_to_know_whether_a_job_runs(seen: Seen, watched: Watched, job: Job) -> None:
    assert watched(job_late).see(replace(running(seen, job, 9000.0), active=None)).present is None
    assert watched(job_late).see(seen(at=9000.0, job=None)).present is None


def test_late_is_taken_back_a_minute_beyond(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(job_late)
    bounds = (4000.0, 4060.0, 4061.0)
    frames = (running(seen, job, 4000.0, expected_late=bound) for bound in bounds)
    assert watch.answers(*frames) == [True, True, False]


@pytest.mark.parametrize(
    ("usual", "told"),
    [
        ({}, 1300),
        ({"progress-gap": Usual(4.0, 1.0, ENOUGH - 1, 6.0)}, 1300),
        ({"progress-gap": Usual(4.0, 1.0, ENOUGH, 6.0)}, 1069),
        ({"progress-gap": Usual(30.0, 1.0, ENOUGH, 100.0)}, 1210),
        ({"progress-gap": Usual(30.0, 1.0, ENOUGH, 900.0)}, 1300),
    ],
    ids=["not known", "too few jobs", "always moves", "rests now and then", "rests for long"],
)
def test_without_a_plan_the_machines_own_jobs_set_how_long_it_may_stand_still(
    seen: Seen, watched: Watched, job: Job, usual: dict[str, Usual], told: int
) -> None:
    """Five minutes of a nozzle melting into the part are too long where a counter never stood for ten seconds."""
    frames = (still(seen, job, 1000.0 + at, usual=usual) for at in range(600))
    assert told_at(watched(job_stalled), *frames) == told
    planned = (still(seen, replace(job, stall_limit=10.0), 1000.0 + at, usual=usual) for at in range(600))
    assert told_at(watched(job_stalled), *planned) == pytest.approx(1075, abs=1), "a plan knows better"


@pytest.mark.parametrize("acknowledged", [True, False])
def test_a_wait_whose_line_tells_its_length_is_no_stall_until_it_is_over(
    seen: Seen, watched: Watched, job: Job, acknowledged: bool
) -> None:
    """A file may rest for seven minutes; what stands still after that is a stall as ever."""
    sent = {} if acknowledged else {"blocking_since": 1000.0}
    frames = [still(seen, job, 1000.0 + at, dwells=(1000.0, 1420.0), **sent) for at in range(900)]
    assert told_at(watched(job_stalled), *frames) == 1720
