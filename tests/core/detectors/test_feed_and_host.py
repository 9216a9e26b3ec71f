"""Extruding in place, filament out, link errors, host suspended."""

from collections.abc import Callable
from dataclasses import replace
from random import Random
from typing import Any

import pytest
from pydantic import TypeAdapter

from watchdog.core.detectors import extruding_in_place, filament_out, host_suspended, link_errors
from watchdog.core.observations import Fault, FaultKind
from watchdog.core.snapshot import Execution, Job, Link, Origin, Snapshot
from watchdog.statistics.count_cusum import bernoulli_run_length, design_bernoulli

Seen = Callable[..., Snapshot]
Watched = Callable[..., Any]

OUT = Fault(FaultKind.FILAMENT_OUT, "filament detector has detected")
WAITS = {"execution": Execution.WAITING, "waits_for_person": True}


@pytest.fixture
def streamed(job: Job) -> Job:
    return replace(job, origin=Origin.STREAMED)


def stands_still(seen: Seen, job: Job, at: float, fed: float, **changes: Any) -> Snapshot:
    return seen(at=at, job=job, fed_in_place=fed, flowed=500.0, **changes)


# ---------------------------------------------------------------- extruding in place


def test_thirty_millimetres_in_one_place_are_told_and_less_are_not(seen: Seen, watched: Watched, streamed: Job) -> None:
    """Nothing on the machine stops it: plastic buries the nozzle until somebody does."""
    watch = watched(extruding_in_place)
    fed = [(1000.0, 0.0), (1002.0, 12.0), (1004.0, 29.9), (1006.0, 30.0)]
    assert watch.answers(*(stands_still(seen, streamed, at, mm) for at, mm in fed)) == [False, False, False, True]
    finding = watch.see(stands_still(seen, streamed, 1010.0, 44.4))
    assert (finding.present, finding.evidence["fed_in_place_mm"]) == (True, 44)
    assert watch.see(stands_still(seen, streamed, 1012.0, 0.0)).present is False


def test_one_long_feed_alone_is_a_purge(seen: Seen, watched: Watched, streamed: Job) -> None:
    watch = watched(extruding_in_place)
    fed = [(1000.0, 0.0), (1002.0, 45.0), (1004.0, 45.0), (1006.0, 45.0), (1008.0, 0.0)]
    assert watch.answers(*(stands_still(seen, streamed, at, mm) for at, mm in fed)) == [False] * 5


def test_priming_in_place_before_the_first_line_is_usual(seen: Seen, watched: Watched, streamed: Job) -> None:
    starting = replace(streamed, building_since=None)
    watch = watched(extruding_in_place)
    fed = [(1000.0 + second, 10.0 * second) for second in range(12)]
    frames = (stands_still(seen, starting, at, mm, execution=Execution.PREPARING) for at, mm in fed)
    assert watch.answers(*frames) == [False] * 10 + [True] * 2


def test_a_filament_change_loads_in_place(seen: Seen, watched: Watched, streamed: Job) -> None:
    """Somebody is at the machine; an urgent alarm at every change would be switched off within a week."""
    watch = watched(extruding_in_place)
    watch.see(stands_still(seen, streamed, 1000.0, 0.0))
    loading = [(1010.0 + second, 4.0 * second) for second in range(20)]
    assert watch.answers(*(stands_still(seen, streamed, at, mm, **WAITS) for at, mm in loading)) == [False] * 20
    after = [(1030.0 + second, 76.0 + 2.0 * second) for second in range(20)]
    assert watch.answers(*(stands_still(seen, streamed, at, mm) for at, mm in after)) == [False] * 20
    standing = [stands_still(seen, streamed, 1050.0 + 10 * n, 114.0) for n in range(30)]
    assert watch.answers(*standing) == [False] * 30
    again = [stands_still(seen, streamed, 1360.0 + n, 130.0 + 15.0 * n) for n in range(3)]
    assert watch.answers(*again) == [False, True, True]


def test_what_is_fed_after_the_first_move_behind_a_change_counts_again(
    seen: Seen, watched: Watched, streamed: Job
) -> None:
    watch = watched(extruding_in_place)
    watch.see(stands_still(seen, streamed, 1000.0, 60.0, **WAITS))
    fed = [(1002.0, 0.0), (1003.0, 20.0), (1004.0, 40.0)]
    assert watch.answers(*(stands_still(seen, streamed, at, mm) for at, mm in fed)) == [False, False, True]


def test_outside_a_job_filament_may_be_loaded_in_place(seen: Seen, watched: Watched, streamed: Job) -> None:
    watch = watched(extruding_in_place)
    ended = replace(streamed, ended=900.0, ending="completed")
    frames = [stands_still(seen, ended, 1000.0 + n, 20.0 * n, execution=Execution.COMPLETE) for n in range(5)]
    assert watch.answers(*frames) == [False] * 5


def test_a_card_job_whose_positions_are_never_told_shows_nothing(seen: Seen, watched: Watched, job: Job) -> None:
    assert watched(extruding_in_place).see(seen(job=job)).present is None
    assert watched(extruding_in_place).see(seen(job=job, flowed=1.0)).present is False
    assert watched(extruding_in_place).see(seen(heard=900.0, flowed=1.0)).present is None


# ---------------------------------------------------------------- filament out


@pytest.mark.parametrize("kind", [FaultKind.FILAMENT_OUT, FaultKind.FILAMENT_JAM])
def test_missing_filament_is_told_until_the_held_job_goes_on(seen: Seen, watched: Watched, kind: FaultKind) -> None:
    watch = watched(filament_out)
    faults = ((1000.0, Fault(kind, "said")),)
    assert watch.see(seen(at=1000.0, faults=faults)).present is True
    assert watch.answers(*(seen(at=1000.0 + n, faults=faults, **WAITS) for n in range(1, 900, 10))) == [True] * 90
    assert watch.see(seen(at=1900.0, faults=faults)).present is False
    assert watch.see(seen(at=2000.0, faults=faults)).present is False
    second = (*faults, (2100.0, OUT))
    assert watch.see(seen(at=2100.0, faults=second)).present is True


def test_a_hold_by_command_counts_like_a_wait(seen: Seen, watched: Watched) -> None:
    watch = watched(filament_out)
    faults = ((1000.0, OUT),)
    held = [seen(at=at, faults=faults, execution=Execution.PAUSED) for at in (1001.0, 1040.0)]
    assert watch.answers(*held, seen(at=1050.0, faults=faults)) == [True, True, False]


def test_a_machine_that_does_not_wait_prints_air_and_the_alarm_stands(seen: Seen, watched: Watched) -> None:
    """Its counter moves on at once; that is no sign of new filament."""
    watch = watched(filament_out)
    faults = ((1000.0, OUT),)
    watch.see(seen(at=1001.0, faults=faults, **WAITS))
    answers = watch.answers(*(seen(at=at, faults=faults) for at in (1010.0, 1300.0, 1599.0, 1600.0, 1700.0)))
    assert answers == [True, True, True, False, False]


def test_run_out_outside_this_job_is_no_alarm(seen: Seen, watched: Watched, job: Job) -> None:
    faults = ((1000.0, OUT),)
    for other in (None, replace(job, number=2, started=1010.0), replace(job, ended=1005.0, ending="abandoned")):
        assert watched(filament_out).see(seen(at=1020.0, faults=faults, job=other)).present is False


def test_other_faults_are_no_missing_filament(seen: Seen, watched: Watched) -> None:
    faults = ((1000.0, Fault(FaultKind.COLD_EXTRUSION, "cold extrusion prevented")),)
    assert watched(filament_out).see(seen(at=1000.0, faults=faults)).present is False


def test_missing_filament_is_not_called_loaded_while_nothing_is_heard(seen: Seen, watched: Watched) -> None:
    watch = watched(filament_out)
    faults = ((1000.0, OUT),)
    watch.see(seen(at=1000.0, faults=faults))
    assert watch.see(seen(at=3000.0, faults=faults, link=Link.UNAVAILABLE)).present is True
    assert watched(filament_out).see(seen(at=1000.0, heard=900.0)).present is None


# ---------------------------------------------------------------- link errors


def sends(watch: Any, seen: Seen, share: float, lines: int, random: Random, a_second: int = 30) -> int | None:
    """Lines until it tells; None when it does not within `lines`."""
    sent, refused = watch.memory.lines, watch.memory.refused
    for second in range(lines // a_second):
        sent += a_second
        refused += sum(random.random() < share for _ in range(a_second))
        if watch.see(seen(at=1000.0 + second, lines_sent=sent, resends=refused)).present:
            return (second + 1) * a_second
    return None


def test_the_chart_is_the_one_that_was_designed() -> None:
    """A limit that somebody changed without designing it anew would cry wolf, or never."""
    chart = design_bernoulli(link_errors.HEALTHY, link_errors.BAD, link_errors.QUIET)
    assert chart == link_errors.CHART
    assert (link_errors.Limits().weight, link_errors.Limits().most) == (chart.scale, chart.limit)
    for share, lines in ((0.002, 1.0e9), (0.005, 17_700), (0.01, 1780), (0.02, 620)):
        assert bernoulli_run_length(chart, share) == pytest.approx(lines, rel=0.01)


def test_the_chart_of_damaged_lines_is_the_one_that_was_designed() -> None:
    chart = design_bernoulli(link_errors.READ_HEALTHY, link_errors.BAD, link_errors.READ_QUIET)
    assert chart == link_errors.READ_CHART
    assert (link_errors.Limits().read_weight, link_errors.Limits().read_most) == (chart.scale, chart.limit)
    for share, lines in ((0.0002, 1.0e8), (0.002, 9680), (0.005, 1180), (0.01, 446), (0.02, 202)):
        assert bernoulli_run_length(chart, share) == pytest.approx(lines, rel=0.01)


def reads(watch: Any, seen: Seen, share: float, lines: int, random: Random) -> int | None:
    """One line a second: lines until it tells; None when it does not within `lines`."""
    damaged = 0
    for nth in range(1, lines + 1):
        damaged += random.random() < share
        if watch.see(seen(at=1000.0 + nth, damaged=damaged, lines_heard=nth if damaged else 0)).present:
            return nth
    return None


def test_damaged_lines_are_told_although_nothing_is_asked_for_again(seen: Seen, watched: Watched) -> None:
    """Questions carry no number: on a noisy cable they are simply lost, and some arrive as orders."""
    random = Random(13)
    runs = [reads(watched(link_errors), seen, link_errors.BAD, 10_000, random) for _ in range(100)]
    told = [run for run in runs if run is not None]
    assert len(told) == 100
    assert 380 < sum(told) / 100 < 520
    assert reads(watched(link_errors), seen, link_errors.READ_HEALTHY, 100_000, Random(14)) is None


def test_a_burst_of_noise_at_a_reset_is_one_damaged_line(seen: Seen, watched: Watched) -> None:
    watch = watched(link_errors)
    watch.see(seen(at=1000.0))
    frames = (seen(at=1001.0 + n, damaged=40, lines_heard=5040 + n) for n in range(100))
    assert set(watch.answers(*frames)) == {False}


def test_a_cable_that_was_changed_is_known_as_good_after_as_many_good_lines(seen: Seen, watched: Watched) -> None:
    watch = watched(link_errors)
    answers = watch.answers(*(seen(at=1000.0 + n, damaged=n, lines_heard=2 * n) for n in range(1, 8)))
    assert answers[-1] is True
    assert watch.see(seen(at=1100.0, damaged=7, lines_heard=1200)).present is True
    assert watch.see(seen(at=1200.0, damaged=7, lines_heard=1400)).present is False
    watch = watched(link_errors)
    watch.answers(*(seen(at=1000.0 + n, damaged=n, lines_heard=2 * n) for n in range(1, 8)))
    assert watch.see(seen(at=37007.0, damaged=7, lines_heard=14)).present is False


def test_one_percent_is_told_within_the_time_that_the_design_promises(seen: Seen, watched: Watched) -> None:
    random = Random(11)
    runs = [sends(watched(link_errors), seen, link_errors.BAD, 30_000, random) for _ in range(60)]
    told = [run for run in runs if run is not None]
    assert len(told) == 60
    assert 1400 < sum(told) / 60 < 2300


def test_a_link_at_the_worst_of_routine_is_not_told(seen: Seen, watched: Watched) -> None:
    assert sends(watched(link_errors), seen, link_errors.HEALTHY, 150_000, Random(12)) is None


def test_it_returns_after_as_many_good_lines_as_it_took(seen: Seen, watched: Watched) -> None:
    watch = watched(link_errors)
    watch.see(seen(at=1000.0, lines_sent=0))
    assert watch.see(seen(at=1001.0, lines_sent=9, resends=9)).present is False
    assert watch.see(seen(at=1002.0, lines_sent=20, resends=20)).present is True
    assert watch.see(seen(at=1060.0, lines_sent=1866, resends=20)).present is True
    assert watch.see(seen(at=1061.0, lines_sent=1867, resends=20)).present is False


def test_a_school_day_after_the_last_line_it_is_over(seen: Seen, watched: Watched) -> None:
    watch = watched(link_errors)
    watch.see(seen(at=1000.0, lines_sent=20, resends=20))
    answers = watch.answers(*(seen(at=1000.0 + at, lines_sent=20, resends=20) for at in (1.0, 35999.0, 36000.0)))
    assert answers == [True, True, False]


def test_counts_that_begin_anew_are_no_errors(seen: Seen, watched: Watched) -> None:
    watch = watched(link_errors)
    watch.see(seen(at=1000.0, lines_sent=50_000, resends=3))
    assert watch.see(seen(at=1001.0, lines_sent=10, resends=0)).present is False
    assert watch.see(seen(at=1002.0, lines_sent=40, resends=1)).present is False


# ---------------------------------------------------------------- host suspended


def test_a_sleep_in_a_streamed_job_is_told_and_stands_half_an_hour(seen: Seen, watched: Watched, streamed: Job) -> None:
    watch = watched(host_suspended)
    slept = {"slept_at": 1000.0, "slept": 600.0, "job": streamed}
    finding = watch.see(seen(at=1000.0, **slept))
    assert (finding.present, finding.evidence["slept_s"]) == (True, 600)
    assert watch.see(seen(at=2799.0, **slept)).present is True
    assert watch.see(seen(at=2800.0, **slept)).present is False


def test_a_nap_that_marks_nothing_is_not_told(seen: Seen, watched: Watched) -> None:
    assert watched(host_suspended).see(seen(at=1000.0, slept_at=1000.0, slept=29.9)).present is False
    assert watched(host_suspended).see(seen(at=1000.0, slept_at=1000.0, slept=30.0)).present is True


def test_it_is_told_also_before_the_machine_has_spoken_again(seen: Seen, watched: Watched) -> None:
    unseen = {"link": Link.UNAVAILABLE, "heard": 400.0}
    assert watched(host_suspended).see(seen(at=1000.0, slept_at=1000.0, slept=600.0, **unseen)).present is True
    assert watched(host_suspended).see(seen(at=1000.0, **unseen)).present is None


def test_their_memories_survive_being_stored() -> None:
    """A watch that forgets over a restart raises again what was acknowledged."""
    for memory in (
        extruding_in_place.Memory(44.5, 12.0, 3, 990.0),
        filament_out.Memory(3, 1001.0, True, 900.0),
        link_errors.Memory(5000, 40, 1847.0, 1000.0, True),
    ):
        kept: TypeAdapter[Any] = TypeAdapter(type(memory))
        assert kept.validate_json(kept.dump_json(memory)) == memory


@pytest.mark.parametrize(
    ("finish", "ends", "told"),
    [(9000.0, 8999.0, True), (9000.0, 9000.0, False), (None, 43_200.0, True), (None, 43_201.0, False)],
    ids=["before the job is over", "after it", "nobody knows how long the job takes", "tomorrow"],
)
def test_a_planned_restart_is_told_while_a_streamed_job_cannot_be_over_before_it(
    seen: Seen, watched: Watched, streamed: Job, finish: float | None, ends: float, told: bool
) -> None:
    """Updates restart a computer at night, and a job of nine hours is lost with its nozzle hot on the part."""
    look = seen(at=1000.0, job=streamed, host_ends_how="reboot")
    ahead = replace(look, host_ends=look.stamp + ends, finish_late=None if finish is None else look.stamp + finish)
    finding = watched(host_suspended).see(ahead)
    assert finding.present is told
    if told:
        assert (finding.evidence["host_ends_in_s"], finding.evidence["how"]) == (ends, "reboot")


@pytest.mark.parametrize("what", ["card job", "job over", "past"])
def test_a_restart_that_harms_no_stream_is_not_told_here(
    seen: Seen, watched: Watched, streamed: Job, job: Job, what: str
) -> None:
    """A card job goes on without the computer; that the watch is to end is told by `watch-impaired`."""
    shown = {"card job": job, "job over": replace(streamed, ended=990.0, ending="completed"), "past": streamed}[what]
    look = seen(at=1000.0, job=shown)
    ahead = replace(look, host_ends=look.stamp + (-5.0 if what == "past" else 600.0))
    assert watched(host_suspended).see(ahead).present is False
