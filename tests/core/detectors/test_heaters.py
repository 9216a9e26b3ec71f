"""Heat runaway, heating stalled, heat not holding, temperature implausible: on heaters that behave as real ones do."""

import itertools
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import partial
from itertools import pairwise
from math import exp
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from watchdog.core.detectors import heat_not_holding, heat_runaway, heating_stalled, temperature_implausible
from watchdog.core.observations import Fault, FaultKind
from watchdog.core.snapshot import Execution, Heater, Job, Snapshot, Usual

Seen = Callable[..., Snapshot]
Watched = Callable[..., Any]
Course = Callable[[float], float]

ROOM = 25.0


def readings(
    course: Course,
    target: Course | float,
    seconds: int,
    *,
    begin: int = 1000,
    pace: int = 2,
    power: Callable[[float], int] = lambda t: 71,
    told: bool | None = None,
) -> Iterator[Heater]:
    """A heater read every `pace` s: °C and target as functions of s since `begin`. `told`: reports name the target."""
    before: float | None = None
    since, last = 0.0, None
    for passed in range(0, seconds + 1, pace):
        at = float(begin + passed)
        now = round(course(passed), 2)
        wanted = target(passed) if callable(target) else target
        if last is not None and wanted != last:
            since = at
        last = wanted
        told_at = None if told is None else at if told else 0.0
        previous_at = None if before is None else at - pace
        yield Heater(now, wanted, power(passed), 127, at, before, previous_at, since, told_at)
        before = now


def told_at(watch: Any, seen: Seen, heaters: Iterator[Heater], which: str = "nozzle", **changes: Any) -> float | None:
    """s after the first reading."""
    first: float | None = None
    for heater in heaters:
        assert heater.at is not None
        first = heater.at if first is None else first
        if watch.see(seen(at=heater.at, **{which: heater, **changes})).present:
            return heater.at - first
    return None


def warming(t: float, start: float = ROOM, pace: float = 2.5, top: float = 205.0) -> float:
    return min(start + pace * t, top)


# ---------------------------------------------------------------- heat runaway


def test_a_heater_that_rises_while_it_is_off_is_told_once_it_is_beyond_any_other_cause(
    seen: Seen, watched: Watched
) -> None:
    watch = watched(heat_runaway)
    course = readings(lambda t: ROOM + 3.0 * t, 0.0, 200)
    at = told_at(watch, seen, course, bed=(ROOM, 0.0), execution=Execution.READY)
    assert at == pytest.approx((60 - ROOM) / 3.0 + 2, abs=2)  # the second reading beyond it


def test_a_hot_nozzle_that_is_switched_off_and_rises_again_is_told(seen: Seen, watched: Watched) -> None:
    watch = watched(heat_runaway)

    def course(t: float) -> float:
        return 205 - t if t < 60 else 145 + 2.0 * (t - 60)

    assert told_at(watch, seen, readings(course, lambda t: 0.0 if t else 205.0, 200)) == pytest.approx(66, abs=2)


@pytest.mark.parametrize("misread", [13.6, 9.3, 193.6, 293.6])
@pytest.mark.parametrize("nth", [0, 1, 20])
def test_one_damaged_reading_of_a_heater_that_cools_is_no_runaway(
    seen: Seen, watched: Watched, misread: float, nth: int
) -> None:
    """A digit lost on a noisy cable; the message would send somebody to the wall switch and keep people away."""
    watch = watched(heat_runaway)

    def off(t: float) -> float:
        return misread if t == 2 * nth else ROOM + 70 * exp(-t / 162.5)

    assert told_at(watch, seen, readings(off, 0.0, 200), bed=(ROOM, 0.0), execution=Execution.READY) is None


@pytest.mark.parametrize("constant", [60.0, 162.5, 625.0, 1260.0])
def test_cooling_is_no_runaway(seen: Seen, watched: Watched, constant: float) -> None:
    watch = watched(heat_runaway)

    def off(t: float) -> float:  # the cartridge's heat reaches the sensor first
        return 211 - (6 - t) ** 2 / 6 if t < 6 else ROOM + 186 * exp(-(t - 6) / constant)

    assert told_at(watch, seen, readings(off, lambda t: 0.0 if t else 205.0, 3000)) is None


@pytest.mark.parametrize(("constant", "setback"), [(162.5, 150.0), (162.5, 100.0), (625.0, 150.0), (1260.0, 120.0)])
def test_a_lowered_target_is_no_runaway(seen: Seen, watched: Watched, constant: float, setback: float) -> None:
    watch = watched(heat_runaway)
    course = readings(lambda t: max(setback, ROOM + 180 * exp(-t / constant)), lambda t: setback if t else 205.0, 3000)
    assert told_at(watch, seen, course) is None


@pytest.mark.parametrize("constant", [900.0, 2400.0, 3600.0])
def test_a_bed_that_cools_slowly_to_a_lower_target_is_no_runaway(seen: Seen, watched: Watched, constant: float) -> None:
    watch = watched(heat_runaway)
    course = readings(
        lambda t: round(max(45.0, ROOM + 35 * exp(-t / constant)), 1), lambda t: 45.0 if t else 60.0, 6000
    )
    assert told_at(watch, seen, course, "bed") is None


def test_a_nozzle_warmed_by_the_bed_is_no_runaway(seen: Seen, watched: Watched) -> None:
    """Parked over a bed of 100 °C a cold nozzle gains some 30 °C within minutes."""
    watch = watched(heat_runaway)
    course = readings(lambda t: ROOM + 30 * (1 - exp(-t / 300)), 0.0, 1200)
    assert told_at(watch, seen, course, bed=(100.0, 100.0), execution=Execution.READY) is None


def test_heat_that_stays_above_its_target_is_told_after_twenty_seconds(seen: Seen, watched: Watched) -> None:
    watch = watched(heat_runaway)
    course = readings(lambda t: min(205 + 2.0 * t, 225), 205.0, 200)
    assert told_at(watch, seen, course) == pytest.approx(28, abs=2)
    watch = watched(heat_runaway)
    course = readings(lambda t: 240.0, 205.0, 200)
    assert told_at(watch, seen, course) == 20
    finding = watch.see(seen(at=1030.0, nozzle=Heater(240.0, 205.0, 0, 127, 1030.0, 240.0, 1028.0, 0.0)))
    assert finding.evidence["heater"] == "nozzle"


def test_a_bed_that_stays_above_its_target_is_told_after_two_minutes(seen: Seen, watched: Watched) -> None:
    watch = watched(heat_runaway)
    assert told_at(watch, seen, readings(lambda t: min(60 + 0.5 * t, 84), 60.0, 600), "bed") == pytest.approx(
        150, abs=2
    )


def test_a_climb_of_twenty_five_degrees_is_told_by_its_second_reading(seen: Seen, watched: Watched) -> None:
    """On hot materials the controller's own limit comes before the heat has stood above its target for long."""
    course = readings(lambda t: 250 + 2.5 * t, 250.0, 60)
    assert told_at(watched(heat_runaway), seen, course) == 12
    lone = readings(lambda t: 281.0 if t == 20 else 250.0 + t % 3, 250.0, 200)
    assert told_at(watched(heat_runaway), seen, lone) is None


@pytest.mark.parametrize("pace", [1, 2, 3, 5])
def test_a_climb_against_power_zero_is_told_within_half_a_minute(seen: Seen, watched: Watched, pace: int) -> None:
    """A switch that conducts all the time: the controller has let go, and the block gets hotter for all that."""

    def power(t: float) -> int:
        return 0 if t >= 5 else 60

    course = partial(readings, lambda t: 205 + 1.0 * t, 205.0, 60, pace=pace, power=power)
    at = told_at(watched(heat_runaway), seen, course())
    assert at is not None
    assert 15 <= at <= 20
    # the same climb with some power is a control that has not caught up yet
    slow = readings(lambda t: min(205 + 1.0 * t, 219), 205.0, 26, pace=pace, power=lambda t: 10)
    assert told_at(watched(heat_runaway), seen, slow) is None


@pytest.mark.parametrize(("lag", "pace"), [(3.0, 1), (6.0, 2), (6.0, 5)])
def test_heat_on_its_way_after_power_off_is_no_climb(seen: Seen, watched: Watched, lag: float, pace: int) -> None:
    """A cold start at 3 °C a second, cut at the target: it overshoots by what its own lag holds, and falls."""

    def course(t: float) -> float:
        return 205 + 3 * lag * (1 - exp(-t / lag)) - 0.6 * t

    heaters = readings(course, 205.0, 40, pace=pace, power=lambda t: 0)
    assert told_at(watched(heat_runaway), seen, heaters) is None


def test_a_limit_that_the_reading_has_climbed_to_is_a_runaway_and_no_broken_sensor(
    seen: Seen, watched: Watched
) -> None:
    """The wrong message would send somebody to the sensor's lead while the block glows."""
    limit = Fault(FaultKind.SENSOR_HIGH, "MAXTEMP triggered, system stopped!", "nozzle", halted=True)
    climbed = Heater(268.0, 245.0, 0, 127, 1000.0, 264.0, 998.0, target_since=0.0)
    cooled = Heater(240.0, 0.0, 0, 127, 1040.0, 241.0, 1038.0, target_since=1002.0)
    short = Heater(245.2, 245.0, 70, 127, 1000.0, 245.0, 998.0, target_since=0.0)
    falling = Heater(200.0, 0.0, 0, 127, 1000.0, 203.0, 998.0, target_since=0.0)
    for heater, runs in ((climbed, True), (short, False), (falling, False)):
        runaway, implausible = watched(heat_runaway), watched(temperature_implausible)
        for frame in (
            seen(at=1000.0, nozzle=heater, faults=((1000.0, limit),)),
            seen(at=1040.0, nozzle=cooled, faults=((1000.0, limit),)),
        ):
            assert bool(runaway.see(frame).present) is runs
            assert bool(implausible.see(frame).present) is not runs


def test_a_reading_that_leaps_up_is_a_sensors_and_no_runaway(seen: Seen, watched: Watched) -> None:
    """A shorted sensor: two urgent messages of one cause, and the second one wrong."""
    for target in (205.0, 0.0):
        course = partial(readings, lambda t: 90.0 if t < 20 else 375.0, target, 200)
        assert told_at(watched(heat_runaway), seen, course()) is None
        assert told_at(watched(temperature_implausible), seen, course()) == 22
    # what climbs on from there as heat does is believed again
    climbs = readings(lambda t: 90.0 if t < 20 else 150 + 2.0 * (t - 20), 0.0, 200)
    assert told_at(watched(heat_runaway), seen, climbs) is not None


def test_an_overshoot_that_falls_is_no_runaway(seen: Seen, watched: Watched) -> None:
    watch = watched(heat_runaway)
    course = readings(lambda t: 205 + 22 * exp(-((t - 20) ** 2) / 200), 205.0, 300)
    assert told_at(watch, seen, course) is None


def test_a_runaway_returns_when_the_heat_has_clearly_fallen(seen: Seen, watched: Watched) -> None:
    watch = watched(heat_runaway)
    assert told_at(watch, seen, readings(lambda t: 205 + 2.0 * t, 205.0, 40)) is not None
    cooling = list(readings(lambda t: 285 - t, 0.0, 60, begin=1042))
    answers = watch.answers(*(seen(at=heater.at, nozzle=heater) for heater in cooling))
    assert answers[0] is True
    assert answers[-1] is False
    assert sum(one != other for one, other in itertools.pairwise(answers)) == 1


def test_heat_that_the_reports_name_no_target_for_is_no_runaway(seen: Seen, watched: Watched) -> None:
    """Some controllers leave the target out while they wait for heat in a card job: the last one told is still 0, or
    that of a preheat. An urgent message at the start of every job would be the end of all trust."""
    for stale in (0.0, 150.0):
        watch = watched(heat_runaway)
        course = readings(partial(warming, start=stale or ROOM), stale, 300, told=False)
        assert told_at(watch, seen, course, heating_up=True, execution=Execution.PREPARING) is None
        told = readings(partial(warming, start=stale or ROOM), stale, 300, told=True)
        assert told_at(watched(heat_runaway), seen, told, heating_up=True) is not None


def test_a_target_told_before_the_job_began_says_nothing_of_its_heat(seen: Seen, watched: Watched, job: Job) -> None:
    """A second job on a warm nozzle: the last target told is the 0 of the first job's end."""
    told = Heater(90.0, 0.0, None, 127, 1010.0, 75.0, 1008.0, target_since=500.0, target_at=1003.0)
    before = Heater(52.0, 0.0, None, 127, 1003.0, 52.2, 1001.0, target_since=500.0, target_at=1003.0)
    second = replace(job, started=1004.0)
    for running, present in ((replace(job, started=900.0), True), (second, None)):
        watch = watched(heat_runaway)
        watch.see(seen(at=1003.0, nozzle=before, bed=(None, None), job=running))
        watch.see(seen(at=1003.5, nozzle=before, bed=(None, None), job=running))
        assert watch.see(seen(at=1010.5, nozzle=told, bed=(None, None), job=running)).present is present


def test_a_rise_over_a_gap_in_the_readings_is_no_rise_while_off(seen: Seen, watched: Watched) -> None:
    """A machine that said nothing of its heat during a job comes back with target 0 and 200 °C, twice in a second."""
    watch = watched(heat_runaway)
    cold = Heater(22.0, 0.0, 0, 127, 1000.0, 22.0, 998.0, target_since=0.0, target_at=1000.0)
    watch.see(seen(at=1000.0, nozzle=cold))
    watch.see(seen(at=1001.0, nozzle=cold))
    assert watch.see(seen(at=1060.0, nozzle=(None, 0.0))).present is None
    hot = Heater(200.0, 0.0, 0, 127, 1150.0, 200.0, 1150.0, target_since=0.0, target_at=1150.0)
    assert watch.see(seen(at=1150.0, nozzle=hot)).present is False


def test_without_knowing_when_the_target_was_told_the_machines_own_word_for_heating_counts(
    seen: Seen, watched: Watched
) -> None:
    heats: dict[str, Any] = {"heating_up": True, "execution": Execution.PREPARING}
    assert told_at(watched(heat_runaway), seen, readings(warming, 0.0, 100), bed=(60.0, 60.0), **heats) is None
    # the bed is what it waits for: that explains no rising nozzle
    assert told_at(watched(heat_runaway), seen, readings(warming, 0.0, 100), bed=(40.0, 60.0), **heats) is not None


def test_what_rises_just_after_switching_off_is_counted_from_half_a_minute_later(seen: Seen, watched: Watched) -> None:
    course = readings(lambda t: 205.0 + t, lambda t: 0.0 if t else 205.0, 200)
    assert told_at(watched(heat_runaway), seen, course) == pytest.approx(42, abs=2)


def test_a_nozzle_over_a_hot_bed_is_told_once_it_is_hotter_than_the_bed_can_make_it(
    seen: Seen, watched: Watched
) -> None:
    course = readings(lambda t: ROOM + t / 2, 0.0, 400)
    assert told_at(watched(heat_runaway), seen, course, bed=(100.0, 100.0)) == pytest.approx(170, abs=2)


def test_a_bed_that_hardly_falls_is_told_and_one_that_falls_is_not(seen: Seen, watched: Watched) -> None:
    falls = readings(lambda t: 90 - 0.7 * t / 120, 60.0, 600)
    assert told_at(watched(heat_runaway), seen, falls, "bed") is None
    hardly = readings(lambda t: 90 - 0.3 * t / 120, 60.0, 600)
    assert told_at(watched(heat_runaway), seen, hardly, "bed") == 120


def test_a_target_told_long_before_the_reading_proves_nothing(seen: Seen, watched: Watched) -> None:
    for age, present in ((10.0, True), (12.0, None)):
        watch = watched(heat_runaway)
        answers = watch.answers(
            *(
                seen(at=at, nozzle=Heater(240.0, 205.0, 71, 127, at, 240.0, at - 2, 0.0, at - age))
                for at in (1000.0, 1010.0, 1020.0)
            )
        )
        assert answers[-1] is present


def test_readings_half_a_minute_apart_are_followed_and_rarer_ones_are_not(seen: Seen, watched: Watched) -> None:
    course = readings(lambda t: 240.0, 205.0, 300, pace=30)
    assert told_at(watched(heat_runaway), seen, course) == 30
    course = readings(lambda t: 240.0, 205.0, 300, pace=32)
    assert told_at(watched(heat_runaway), seen, course) is None


def test_a_runaway_returns_near_a_target_that_was_raised(seen: Seen, watched: Watched) -> None:
    watch = watched(heat_runaway)
    assert told_at(watch, seen, readings(lambda t: 240.0, 205.0, 40)) == 20
    near = [seen(at=1042.0 + at, nozzle=(240.0, target)) for at, target in enumerate((230.0, 232.0, 233.0))]
    assert watch.answers(*near) == [True, True, False]


def test_a_rise_during_blindness_is_not_put_together_from_two_ends(seen: Seen, watched: Watched) -> None:
    """Somebody heated it and switched it off again while the cable was out."""
    watch = watched(heat_runaway)
    assert told_at(watch, seen, readings(lambda t: 30.0, 0.0, 60)) is None
    back = Heater(120.0, 0.0, 0, 127, 2000.0, 30.0, 1060.0, 0.0)
    assert watch.see(seen(at=2000.0, nozzle=back)).present is False


def test_a_reported_runaway_is_told_at_once(seen: Seen, watched: Watched) -> None:
    fault = Fault(FaultKind.RUNAWAY, "Thermal Runaway, system stopped!", "bed", halted=True)
    finding = watched(heat_runaway).see(seen(nozzle=Heater(), faults=((999.0, fault),)))
    assert finding.present is True
    assert finding.evidence["heater"] == "bed"


# ---------------------------------------------------------------- heating stalled


def test_a_nozzle_that_does_not_warm_up_is_told_after_forty_seconds(seen: Seen, watched: Watched) -> None:
    watch = watched(heating_stalled)
    assert told_at(watch, seen, readings(lambda t: ROOM, 205.0, 200), execution=Execution.PREPARING) == 40


def test_a_bed_that_does_not_warm_up_is_told_after_ninety_seconds(seen: Seen, watched: Watched) -> None:
    assert told_at(watched(heating_stalled), seen, readings(lambda t: ROOM, 60.0, 200), "bed") == 90


@pytest.mark.parametrize(
    ("course", "target", "which"),
    [
        (warming, 205.0, "nozzle"),
        (lambda t: ROOM if t < 30 else warming(t - 30), 205.0, "nozzle"),
        (lambda t: warming(t, pace=0.06), 205.0, "nozzle"),
        (lambda t: min(ROOM + t / 40, 60.0), 60.0, "bed"),
        (lambda t: 196.0, 205.0, "nozzle"),
        (lambda t: ROOM, 0.0, "nozzle"),
    ],
    ids=["healthy", "late start", "slow", "slow bed", "near its target", "off"],
)
def test_heating_that_gains_is_not_stalled(
    seen: Seen, watched: Watched, course: Course, target: float, which: str
) -> None:
    assert told_at(watched(heating_stalled), seen, readings(course, target, 1200), which) is None


@pytest.mark.parametrize(
    "changes",
    [
        {"execution": Execution.WAITING, "waits_for_person": True},
        {"execution": Execution.PAUSED},
    ],
)
def test_a_held_nozzle_without_power_may_cool(seen: Seen, watched: Watched, changes: dict[str, Any]) -> None:
    """Some cut the power while they wait for somebody and leave the target: normal there."""
    course = readings(lambda t: max(40.0, 205 - t), 205.0, 600, power=lambda t: 0)
    assert told_at(watched(heating_stalled), seen, course, **changes) is None


def test_a_held_nozzle_under_power_must_gain(seen: Seen, watched: Watched) -> None:
    course = readings(lambda t: 100.0, 205.0, 200, power=lambda t: 127)
    assert told_at(watched(heating_stalled), seen, course, execution=Execution.PAUSED) == 40


def test_a_nozzle_that_sticks_ten_degrees_short_is_told(seen: Seen, watched: Watched) -> None:
    assert told_at(watched(heating_stalled), seen, readings(lambda t: 195.0, 205.0, 200)) == 40


@pytest.mark.parametrize(("gain", "told"), [(2.0, None), (1.9, 40)])
def test_two_degrees_in_the_window_are_a_gain(seen: Seen, watched: Watched, gain: float, told: float | None) -> None:
    course = readings(lambda t: 100 + gain * (t // 38), 205.0, 200)
    assert told_at(watched(heating_stalled), seen, course) == told


def test_heating_that_gains_again_returns_and_does_not_chatter(seen: Seen, watched: Watched) -> None:
    watch = watched(heating_stalled)
    course = list(readings(lambda t: 100.0 if t < 100 else warming(t - 100, 100.0), 205.0, 300))
    answers = watch.answers(*(seen(at=heater.at, nozzle=heater) for heater in course))
    assert [answer for answer, _ in itertools.groupby(answers)] == [False, True, False]


def test_one_reading_across_the_edge_does_not_take_a_stall_back(seen: Seen, watched: Watched) -> None:
    watch = watched(heating_stalled)
    course = list(readings(lambda t: 196.0 if t == 60 else 195.0, 205.0, 200))
    answers = watch.answers(*(seen(at=heater.at, nozzle=heater) for heater in course))
    assert [answer for answer, _ in itertools.groupby(answers)] == [False, True]


def test_a_gap_in_the_readings_is_no_stall(seen: Seen, watched: Watched) -> None:
    watch = watched(heating_stalled)
    watch.see(seen(at=1000.0, nozzle=Heater(100.0, 205.0, 127, 127, 1000.0, 99.0, 998.0, 900.0)))
    assert (
        watch.see(seen(at=1300.0, nozzle=Heater(101.0, 205.0, 127, 127, 1300.0, 100.0, 1000.0, 900.0))).present is False
    )


@pytest.mark.parametrize("kind", [FaultKind.HEATING_FAILED, FaultKind.HEAT_MODEL])
def test_a_reported_heating_failure_is_told_at_once(seen: Seen, watched: Watched, kind: FaultKind) -> None:
    faults = ((999.0, Fault(kind, "Heating failed, system stopped!", "nozzle")),)
    assert watched(heating_stalled).see(seen(faults=faults)).present is True


# ---------------------------------------------------------------- heat not holding


def drooping(t: float) -> float:
    return 205.0 if t < 20 else 195.0


def test_a_droop_of_ten_degrees_in_a_job_is_told_after_thirty_seconds(seen: Seen, watched: Watched) -> None:
    assert told_at(watched(heat_not_holding), seen, readings(drooping, 205.0, 200)) == 50


@pytest.mark.parametrize(
    ("course", "target", "changes"),
    [
        (lambda t: warming(t, pace=1.0), 205.0, {}),
        (lambda t: 194.0 if 20 <= t < 48 else 205.0, 205.0, {}),
        (lambda t: 205.0 if t < 20 else 196.0, 205.0, {}),
        (lambda t: 205.0 if t < 20 else min(205.0, 160.0 + 1.3 * (t - 20)), 205.0, {}),
        (drooping, 205.0, {"execution": Execution.PAUSED}),
        (drooping, 205.0, {"execution": Execution.WAITING, "waits_for_person": True}),
        (drooping, 205.0, {"execution": Execution.READY}),
        (drooping, lambda t: 205.0 if t < 20 else 230.0, {}),
    ],
    ids=["heats up", "gust", "small droop", "comes back", "paused", "waits", "no job", "target raised"],
)
def test_what_is_no_droop(
    seen: Seen, watched: Watched, course: Course, target: Course | float, changes: dict[str, Any]
) -> None:
    assert told_at(watched(heat_not_holding), seen, readings(course, target, 300), **changes) is None


def test_a_nozzle_that_cooled_in_a_hold_may_warm_up_again(seen: Seen, watched: Watched) -> None:
    watch = watched(heat_not_holding)
    assert told_at(watch, seen, readings(lambda t: 205.0, 205.0, 60)) is None
    held = readings(lambda t: 205 - t, 205.0, 100, begin=1062)
    assert told_at(watch, seen, held, execution=Execution.WAITING, waits_for_person=True) is None
    assert told_at(watch, seen, readings(lambda t: warming(t, 105.0, 1.0), 205.0, 200, begin=1164)) is None


def test_a_droop_returns_within_half_of_the_drop(seen: Seen, watched: Watched) -> None:
    watch = watched(heat_not_holding)
    course = list(
        readings(lambda t: 205.0 if t < 20 else 194.0 if t < 100 else 199.0 if t < 120 else 201.0, 205.0, 200)
    )
    answers = watch.answers(*(seen(at=heater.at, nozzle=heater) for heater in course))
    assert [(answer, len(list(run))) for answer, run in itertools.groupby(answers)] == [
        (False, 25),
        (True, 35),
        (False, 41),
    ]


# ---------------------------------------------------------------- temperature implausible


def test_a_sensor_that_falls_out_is_told_by_the_second_reading(seen: Seen, watched: Watched) -> None:
    watch = watched(temperature_implausible)
    assert told_at(watch, seen, readings(lambda t: 205.0 if t < 20 else 60.0, 205.0, 60)) == 22
    assert (
        watch.see(seen(at=1023.0, nozzle=Heater(60.0, 205.0, 127, 127, 1022.0, 60.0, 1020.0, 0.0))).evidence["why"]
        == "jumped"
    )


@pytest.mark.parametrize("value", [-15.0, -333.0, 2000.0, 999.0])
def test_a_reading_that_no_sensor_can_mean_is_told_by_the_second_one(
    seen: Seen, watched: Watched, value: float
) -> None:
    watch = watched(temperature_implausible)
    course = readings(lambda t: ROOM if t < 20 else value, 0.0, 60)
    assert told_at(watch, seen, course, execution=Execution.READY) == 22


def damaged(odd: float, t: float) -> float:
    return odd if t == 20 else 205.0 + t % 3 / 10


def test_one_damaged_line_is_no_sensor_fault(seen: Seen, watched: Watched) -> None:
    """A lost dot reads as 2049 °C, a lost digit as 20 °C: lines carry no checksum, and this alarm is urgent."""
    for odd in (2049.0, 20.0, -20.0, 305.0):
        course = readings(partial(damaged, odd), 205.0, 200)
        assert told_at(watched(temperature_implausible), seen, course) is None


def test_a_loose_contact_is_told_at_its_third_slip(seen: Seen, watched: Watched) -> None:
    course = readings(lambda t: 90.0 if t in (10, 24, 38) else 205.0 + t % 3 / 10, 205.0, 100)
    assert told_at(watched(temperature_implausible), seen, course) == 40


@pytest.mark.parametrize(
    ("course", "target"),
    [
        (lambda t: warming(t, pace=5.0), 205.0),
        (lambda t: ROOM + 180 * exp(-t / 60), 0.0),
        (lambda t: 205.0 if t < 20 else 31.0, lambda t: 205.0 if t < 20 else 0.0),
        (lambda t: 205.0, 205.0),
    ],
    ids=["heats fast", "cools fast", "another hot end is told", "a very steady one"],
)
def test_what_a_sensor_can_mean(seen: Seen, watched: Watched, course: Course, target: Course | float) -> None:
    assert told_at(watched(temperature_implausible), seen, readings(course, target, 1200)) is None


@pytest.mark.parametrize(
    ("course", "pace", "told"),
    [
        (lambda t: min(400 + t, 500.0), 2, 102),
        (lambda t: min(400 + t, 499.9), 2, None),
        (lambda t: max(10 - t, -9.0), 2, 22),
        (lambda t: max(10 - t, -8.9), 2, None),
        (lambda t: 205.0 if t < 20 else 187.0, 2, 22),
        (lambda t: 205.0 if t < 20 else 187.1, 2, None),
        (lambda t: 205.0 if t < 20 else 244.0, 2, 22),
        (lambda t: 205.0 if t < 20 else 243.9, 2, None),
        (lambda t: 205.0 if t < 20 else 181.0, 4, 24),
        (lambda t: 205.0 if t < 20 else 181.1, 4, None),
        (lambda t: 205.0 if t < 15 else 115.0, 15, 30),
        (lambda t: 205.0 if t < 16 else 25.0, 16, None),
        (lambda t: 90.0 if t in (10, 40, 66) else 205.0 + t % 3 / 10, 2, 68),
        (lambda t: 90.0 if t in (10, 42, 72) else 205.0 + t % 3 / 10, 2, None),
    ],
)
def test_each_limit_of_a_sensor_on_both_sides(
    seen: Seen, watched: Watched, course: Course, pace: int, told: float | None
) -> None:
    assert told_at(watched(temperature_implausible), seen, readings(course, 205.0, 300, pace=pace)) == told


@pytest.mark.parametrize(("swing", "told"), [(13, 300), (12, None)])
def test_a_tenth_of_full_power_is_a_swing(seen: Seen, watched: Watched, swing: int, told: float | None) -> None:
    frozen = readings(lambda t: 205.0, 205.0, 1200, power=lambda t: 60 + (swing if t % 20 == 0 else 0))
    at = told_at(watched(temperature_implausible), seen, frozen)
    assert at is None if told is None else at == pytest.approx(told, abs=4)


def test_a_calm_bed_whose_full_power_was_never_told_is_no_frozen_sensor(seen: Seen, watched: Watched) -> None:
    """Told with one decimal at 26 to 29 of 127; a tenth of the 29 is nothing."""
    calm = (
        replace(heater, power_top=29)
        for heater in readings(lambda t: 55.0, 55.0, 1200, power=lambda t: 26 + int(t / 2) % 4)
    )
    assert told_at(watched(temperature_implausible), seen, calm, "bed") is None


def test_a_heater_that_is_off_may_repeat_its_reading(seen: Seen, watched: Watched) -> None:
    cold = readings(lambda t: ROOM, 0.0, 1200, power=lambda t: int(t % 60))
    assert told_at(watched(temperature_implausible), seen, cold) is None


def test_an_open_sensor_that_reads_zero_is_no_cold_nozzle(seen: Seen, watched: Watched) -> None:
    """Some unguarded machines print 0.0: it would pass as cold while the block is heated at full power."""
    course = readings(lambda t: 210.0 if t < 20 else 0.0, 210.0, 200, pace=4)
    assert told_at(watched(temperature_implausible), seen, course) == 24


def test_a_sensor_that_slips_half_out_is_told_although_the_controller_makes_up_for_it(
    seen: Seen, watched: Watched
) -> None:
    """The reading is as ever after half a minute, and the block 45 °C too hot."""

    def slipped(t: float) -> float:
        return 200.0 if t < 20 else min(200.0, 165.0 + 1.0 * (t - 20))

    watch = watched(temperature_implausible)
    assert told_at(watch, seen, readings(slipped, 200.0, 60)) == 22


@pytest.mark.parametrize("capacity", [10.0, 13.0, 17.0])
def test_a_fan_on_the_block_of_a_dead_heater_is_no_broken_sensor(seen: Seen, watched: Watched, capacity: float) -> None:
    """0.3 W/K over 180 K: the fastest that a real block loses its heat."""
    falls = readings(lambda t: ROOM + 180 * exp(-max(0.0, t - 20) * 0.3 / capacity), 205.0, 200)
    assert told_at(watched(temperature_implausible), seen, falls) is None


def test_a_sensor_that_has_fallen_out_is_not_over_because_it_reads_the_room(seen: Seen, watched: Watched) -> None:
    """It is plausible as a number. A second message would then come for the same sensor."""
    watch = watched(temperature_implausible)
    assert told_at(watch, seen, readings(lambda t: 205.0 if t < 20 else ROOM + t % 3 / 10, 205.0, 22)) == 22
    room = list(readings(lambda t: ROOM + t % 3 / 10, 205.0, 600, begin=1024))
    assert set(watch.answers(*(seen(at=heater.at, nozzle=heater) for heater in room))) == {True}
    put_back = list(readings(lambda t: min(205.0, 30 + 2 * t), 205.0, 400, begin=1630))
    assert watch.answers(*(seen(at=heater.at, nozzle=heater) for heater in put_back))[-1] is False


def test_the_way_back_from_a_digit_read_too_high_is_no_fall(seen: Seen, watched: Watched) -> None:
    """47.5 that arrives as 67.5: up by less than a leap, and down again by more than a fall."""
    course = readings(lambda t: 67.5 if t == 20 else 47.5 + t % 3 / 10, 0.0, 100)
    assert told_at(watched(temperature_implausible), seen, course, "bed") is None


def test_a_warm_nozzle_that_heats_up_again_and_leaves_its_target_out_is_no_runaway(
    seen: Seen, watched: Watched
) -> None:
    """A second load on a warm nozzle gains 10 °C within 10 s, and `T:… E:0 W:?` names no target: the old one was 0."""

    def course() -> Iterator[Heater]:
        for passed, now in enumerate((82.6, 82.7, 83.5, 85.0, 87.1, 88.5, 91.0, 92.8, 95.1, 97.2)):
            at = 1001.0 + passed
            yield Heater(now, 0.0, None, 127, at, now - 2, at - 1, target_since=500.0, target_at=1000.0)

    told = [Heater(83.1, 0.0, 0, 127, 1000.0, 83.3, 998.0, target_since=500.0, target_at=1000.0), *course()]
    assert told_at(watched(heat_runaway), seen, iter(told), heating_up=True) is None
    assert told_at(watched(heat_runaway), seen, iter(told), heating_up=False) is not None
    # it waits for the bed, which is short of its target: then nothing explains a nozzle that climbs
    assert told_at(watched(heat_runaway), seen, iter(told), heating_up=True, bed=(40.0, 60.0)) is not None


def test_an_off_heater_does_not_warm_up_and_the_way_back_is_no_fall(seen: Seen, watched: Watched) -> None:
    """38.5 that arrives as 78.5 after a line that nobody could read: an urgent message over a cold machine."""
    moments = [(1000.0, 38.8), (1005.0, 38.7), (1015.0, 78.5), (1020.0, 38.3), (1025.0, 38.2), (1030.0, 38.1)]
    heaters = [
        Heater(now, 0.0, 0, 127, at, before, before_at, 0.0) for (before_at, before), (at, now) in pairwise(moments)
    ]
    assert told_at(watched(temperature_implausible), seen, iter(heaters), "bed") is None


def test_single_readings_that_stand_out_prove_nothing_on_a_cable_that_damages_lines(
    seen: Seen, watched: Watched
) -> None:
    """Each is a digit that noise has changed; an urgent message would send somebody to the wall switch."""

    def told(damaged_at: float | None) -> bool:
        watch = watched(temperature_implausible)
        course = readings(lambda t: 90.0 if t in (60, 74, 88) else 205.0 + t % 3 / 10, 205.0, 120)
        return any(
            watch.see(
                seen(
                    at=heater.at,
                    nozzle=heater,
                    damaged=int(damaged_at is not None and (heater.at or 0.0) >= damaged_at),
                )
            ).present
            for heater in course
        )

    assert told(None)
    assert not told(1040.0)


def test_the_way_back_from_a_damaged_reading_proves_no_jump(seen: Seen, watched: Watched) -> None:
    """Too long after the one before, it was not doubted; what follows it closely is the truth again, and no jump."""
    watch = watched(temperature_implausible)
    moments = [(1000.0, 204.9), (1002.0, 204.7), (1006.0, 304.7), (1008.0, 204.9), (1010.0, 205.1), (1012.0, 205.0)]
    heaters = [
        Heater(now, 205.0, 71, 127, at, before, before_at, 0.0) for (before_at, before), (at, now) in pairwise(moments)
    ]
    assert told_at(watch, seen, iter(heaters)) is None
    later = [(1014.0, 205.1), (1016.0, 305.0), (1018.0, 305.2)]
    heaters = [
        Heater(now, 205.0, 71, 127, at, before, before_at, 0.0) for (before_at, before), (at, now) in pairwise(later)
    ]
    assert told_at(watch, seen, iter(heaters)) == 2  # a real one is still told


def test_a_bed_that_is_not_fitted_is_no_fault_but_one_that_was_there_is(seen: Seen, watched: Watched) -> None:
    """Some controllers print -273.1 for a heater that they do not have."""
    missing = readings(lambda t: -273.1, 0.0, 600)
    assert told_at(watched(temperature_implausible), seen, missing, "bed") is None
    asked = readings(lambda t: -273.1, 60.0, 600)
    assert told_at(watched(temperature_implausible), seen, asked, "bed") == 2
    lost = readings(lambda t: ROOM if t < 20 else -15.0, 0.0, 600)
    assert told_at(watched(temperature_implausible), seen, lost, "bed") == 22


def test_a_reading_that_repeats_while_the_power_swings_is_told_after_five_minutes(seen: Seen, watched: Watched) -> None:
    frozen = readings(lambda t: 205.0, 205.0, 1200, power=lambda t: min(127, int(60 + t)))
    assert told_at(watched(temperature_implausible), seen, frozen) == pytest.approx(300, abs=4)
    alive = readings(lambda t: 205.0 + t % 4 / 10, 205.0, 1200, power=lambda t: int(60 + t % 60))
    assert told_at(watched(temperature_implausible), seen, alive) is None


def test_it_returns_after_a_minute_of_plausible_readings(seen: Seen, watched: Watched) -> None:
    watch = watched(temperature_implausible)
    course = list(readings(lambda t: -15.0 if 20 <= t < 40 else ROOM + t % 3 / 10, 0.0, 300))
    answers = watch.answers(*(seen(at=heater.at, nozzle=heater) for heater in course))
    assert [(answer, len(list(run))) for answer, run in itertools.groupby(answers)] == [
        (False, 11),
        (True, 38),
        (False, 102),
    ]


@pytest.mark.parametrize("kind", [FaultKind.SENSOR_LOW, FaultKind.SENSOR_HIGH, FaultKind.SENSOR])
def test_a_reported_sensor_fault_is_told_at_once(seen: Seen, watched: Watched, kind: FaultKind) -> None:
    faults = ((999.0, Fault(kind, "MINTEMP triggered, system stopped!", "nozzle", halted=True)),)
    assert watched(temperature_implausible).see(seen(nozzle=Heater(), faults=faults)).present is True


# ---------------------------------------------------------------- all four

HEAT = (heat_runaway, heating_stalled, heat_not_holding, temperature_implausible)


@pytest.mark.parametrize("detector", HEAT)
def test_without_a_reading_nobody_can_tell(seen: Seen, watched: Watched, detector: Any) -> None:
    watch = watched(detector)
    told_at(watch, seen, readings(lambda t: 180.0, 205.0, 20))
    kept = watch.memory
    assert watch.see(seen(at=1040.0, nozzle=Heater())).present is None
    assert watch.memory is kept


@pytest.mark.parametrize("detector", HEAT[:3])
@pytest.mark.parametrize("nozzle", [Heater(None, 205.0, 71, 127, 1000.0), Heater(205.0, None, 71, 127, 1000.0)])
def test_half_a_reading_is_none(seen: Seen, watched: Watched, detector: Any, nozzle: Heater) -> None:
    assert watched(detector).see(seen(nozzle=nozzle)).present is None


@pytest.mark.parametrize("detector", HEAT[:2])
def test_a_bed_that_is_asked_for_heat_and_tells_none_cannot_be_judged(
    seen: Seen, watched: Watched, detector: Any
) -> None:
    assert watched(detector).see(seen(bed=Heater(None, 60.0, 71, 127, 1000.0))).present is None
    assert watched(detector).see(seen(bed=Heater(60.0, None, 71, 127, 1000.0))).present is None


def test_a_droop_needs_to_know_whether_a_job_runs(seen: Seen, watched: Watched) -> None:
    assert watched(heat_not_holding).see(seen(active=None)).present is None


@pytest.mark.parametrize("detector", [heat_runaway, heating_stalled, temperature_implausible])
def test_a_machine_without_a_bed_can_be_judged(seen: Seen, watched: Watched, detector: Any) -> None:
    assert watched(detector).see(seen(bed=Heater())).present is False


@pytest.mark.parametrize("detector", HEAT)
@given(noise=st.lists(st.floats(-1, 1), min_size=40, max_size=40), level=st.floats(170, 235))
@settings(max_examples=40, deadline=None)
def test_noise_never_makes_a_steady_heater_chatter(
    seen: Seen, watched: Watched, detector: Any, noise: list[float], level: float
) -> None:
    """Whatever steady level a noisy heater stands at, each answer changes at most once or twice, never in a row."""
    watch = watched(detector)
    reached = list(readings(lambda t: 205.0 + t % 3 / 10, 205.0, 20))
    course = readings(
        lambda t: (205 + (level - 205) * min(1.0, t / 20)) + noise[int(t / 2) % 40], 205.0, 600, begin=1022
    )  # at a pace that a block can have
    answers = watch.answers(*(seen(at=heater.at, nozzle=heater) for heater in (*reached, *course)))
    assert sum(one != other for one, other in itertools.pairwise(answers)) <= 1


@given(noise=st.lists(st.floats(-0.5, 0.5), min_size=100, max_size=100))
@settings(max_examples=30, deadline=None)
def test_a_noisy_healthy_job_raises_nothing(seen: Seen, watched: Watched, noise: list[float]) -> None:
    """Cold, heated up, built for a while, switched off: from first to last."""

    def course(t: float) -> float:
        healthy = warming(t) if t < 600 else ROOM + 180 * exp(-(t - 600) / 162.5)
        return healthy + noise[int(t / 2) % 100]

    def target(t: float) -> float:
        return 205.0 if t < 600 else 0.0

    for detector in HEAT:
        assert told_at(watched(detector), seen, readings(course, target, 1500)) is None


OWN = {"heating-rate": Usual(2.0, 0.1, 8)}


def test_a_heater_much_slower_than_in_this_machines_own_jobs_is_told(seen: Seen, watched: Watched) -> None:
    """A loose heater that still gives a tenth of its heat climbs for a quarter of an hour before anybody wonders."""
    slow = partial(warming, pace=0.2)
    assert told_at(watched(heating_stalled), seen, readings(slow, 205.0, 600)) is None
    assert told_at(watched(heating_stalled), seen, readings(slow, 205.0, 600), usual=OWN) == 40


@pytest.mark.parametrize("pace", [0.6, 1.0, 2.0, 4.0])
def test_a_cold_room_or_a_weak_supply_does_not_stall_it(seen: Seen, watched: Watched, pace: float) -> None:
    assert told_at(watched(heating_stalled), seen, readings(partial(warming, pace=pace), 205.0, 400), usual=OWN) is None


def test_a_slow_climb_is_told_once_until_it_is_near_its_target(seen: Seen, watched: Watched) -> None:
    """An incident that comes and goes every two minutes is muted by its third message."""
    watch = watched(heating_stalled)
    answers = [
        watch.see(seen(at=heater.at, nozzle=heater, usual=OWN)).present
        for heater in readings(partial(warming, pace=0.2), 205.0, 950)
    ]
    assert [answer for answer, _ in itertools.groupby(answers)] == [False, True, False]


def test_a_nozzle_that_comes_back_slowly_after_a_draught_is_not_warming_up(seen: Seen, watched: Watched) -> None:
    back = partial(warming, start=180.0, pace=0.15)
    assert told_at(watched(heating_stalled), seen, readings(back, 205.0, 200), usual=OWN) is None
