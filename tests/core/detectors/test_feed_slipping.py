"""Feed slipping: the sensor sees less filament than the job asks for."""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any

import pytest
from pydantic import TypeAdapter

from watchdog.core.detectors import feed_slipping
from watchdog.core.detectors.feed_slipping import Limits, Memory
from watchdog.core.snapshot import Execution, Job, Origin, Sensed, SensorKind, Snapshot
from watchdog.statistics.run_length import siegmund

Seen = Callable[..., Snapshot]
Watched = Callable[..., Any]
PERIOD = 2  # s between two looks; the sensor reports at every one


def motion(value: float | None, at: float | None, stale: bool = False) -> tuple[Sensed, ...]:
    return (Sensed("doorway-1-motion", SensorKind.FILAMENT_MOTION, value, at, stale),)


@pytest.fixture
def feeding(seen: Seen, job: Job) -> Callable[..., Iterator[Snapshot]]:
    """Looks at a job: `feeding(seconds, speed=4, share=lambda asked: 1.0, lag=6, card=True)`.

    `speed` mm/s asked for; `share` of each mm that moves once it is made, `lag` s after it was asked for; `pulse` mm is what
    the sensor can tell apart.
    """

    def make(
        seconds: int,
        speed: float = 4.0,
        share: Callable[[float], float] = lambda _: 1.0,
        lag: int = 6,
        card: bool = True,
        pulse: float = 0.0,
        begin: float = 1000.0,
        **changes: Any,
    ) -> Iterator[Snapshot]:
        moved = 0.0
        for passed in range(0, seconds, PERIOD):
            asked = speed * passed
            made = max(0.0, speed * (passed - lag))
            if made > 0:
                moved += speed * PERIOD * share(made)
            told = moved if not pulse else moved // pulse * pulse
            at = begin + passed
            feed: dict[str, Any] = {"needed": 9000.0 - asked} if card else {"flowed": 500.0 + asked}
            origin = Origin.CARD if card else Origin.STREAMED
            running = replace(job, origin=origin, moved_at=at)
            yield seen(at=at, job=running, sensors=motion(700.0 + told, at), **feed, **changes)

    return make


def first_present(watch: Any, looks: Iterable[Snapshot]) -> float | None:
    return next((look.at for look in looks if watch.see(look).present), None)


@pytest.mark.parametrize("card", [True, False], ids=["by plan", "streamed"])
@pytest.mark.parametrize("pulse", [0.0, 7.0], ids=["fine", "coarse"])
def test_filament_that_keeps_pace_is_no_finding(feeding: Any, watched: Watched, card: bool, pulse: float) -> None:
    watch = watched(feed_slipping)
    answers = {watch.see(look).present for look in feeding(3600, card=card, pulse=pulse)}
    assert answers == {False}


@pytest.mark.parametrize("card", [True, False], ids=["by plan", "streamed"])
def test_a_jam_is_told_within_twenty_millimetres_and_the_time_that_moves_may_wait(
    feeding: Any, watched: Watched, card: bool
) -> None:
    """Without it the job prints air for hours."""
    looks = feeding(900, card=card, share=lambda made: 1.0 if made < 1200 else 0.0)
    at = first_present(watched(feed_slipping), looks)
    jammed = 1000 + 1200 / 4 + 6
    assert at is not None
    assert jammed + 20 / 4 <= at <= jammed + 20 / 4 + 20 + 5


def test_it_says_how_much_came_through(feeding: Any, watched: Watched) -> None:
    watch = watched(feed_slipping)
    finding = next(
        found
        for look in feeding(1200, share=lambda made: 1.0 if made < 800 else 0.4)
        if (found := watch.see(look)).present
    )
    assert finding.evidence["asked_mm"] >= 20
    assert finding.evidence["came_through_percent"] < 70


@pytest.mark.parametrize("share", [0.75, 0.85, 1.2])
def test_a_flow_that_somebody_turned_down_or_a_wheel_that_slips_a_little_is_none(
    feeding: Any, watched: Watched, share: float
) -> None:
    watch = watched(feed_slipping)
    assert True not in {watch.see(look).present for look in feeding(3600, share=lambda _: share)}


def test_moves_that_wait_in_the_queue_are_not_missing(feeding: Any, watched: Watched) -> None:
    """A stream runs some seconds ahead of the machine, and a reader ahead of the nozzle."""
    watch = watched(feed_slipping)
    assert True not in {watch.see(look).present for look in feeding(1800, speed=6.0, lag=18)}


def test_a_burst_that_is_made_at_once_and_a_long_travel_after_it_are_none(
    seen: Seen, job: Job, watched: Watched
) -> None:
    """What is made sooner than it must be is not asked for twice."""
    watch = watched(feed_slipping)
    fed, answers = 0.0, set()
    for passed in range(0, 1200, 2):
        if passed % 60 == 0:
            fed += 40.0
        at = 1000.0 + passed
        look = seen(at=at, job=replace(job, origin=Origin.STREAMED), flowed=fed, sensors=motion(fed, at))
        answers.add(watch.see(look).present)
    assert answers == {False}


def test_it_ends_when_the_filament_moves_again(feeding: Any, watched: Watched) -> None:
    watch = watched(feed_slipping)
    answers = [watch.see(look).present for look in feeding(900, share=lambda made: 0.0 if 400 < made < 600 else 1.0)]
    assert True in answers
    assert answers[-1] is False
    assert answers.count(True) * PERIOD < 120


@pytest.mark.parametrize(
    "held", [{"execution": Execution.PAUSED}, {"execution": Execution.WAITING}, {"waits_for_person": True}]
)
def test_a_hold_and_a_filament_change_are_none(feeding: Any, watched: Watched, held: dict[str, Any]) -> None:
    """Filament goes to and fro there, by hand."""
    watch = watched(feed_slipping)
    for look in feeding(300, share=lambda made: 0.0 if made > 1100 else 1.0):
        watch.see(look)
    answers = {watch.see(look).present for look in feeding(300, share=lambda _: 0.0, begin=1300.0, **held)}
    assert answers == {False}


def test_without_a_sensor_or_without_a_plan_nobody_can_tell(seen: Seen, watched: Watched) -> None:
    watch = watched(feed_slipping)
    assert watch.see(seen(needed=900.0)).present is None
    assert watch.see(seen(sensors=motion(12.0, 1000.0))).present is None
    assert watch.see(seen(needed=900.0, sensors=motion(None, None))).present is None


def test_a_stale_sensor_is_never_normal_and_takes_nothing_back(feeding: Any, seen: Seen, watched: Watched) -> None:
    watch = watched(feed_slipping)
    looks = list(feeding(600, share=lambda made: 0.0 if made > 800 else 1.0))
    answers = [watch.see(look).present for look in looks]
    assert answers[-1] is True
    stale = [replace(look, at=look.at + 600, heard=look.at + 600, sensors=motion(None, None, True)) for look in looks]
    assert {watch.see(look).present for look in stale} == {None}
    assert watch.memory.told


def test_a_sensor_that_reports_once_a_minute_is_compared_at_its_reports(seen: Seen, job: Job, watched: Watched) -> None:
    """Between two reports the machine feeds on: that is no filament missing."""
    watch = watched(feed_slipping)
    answers = set()
    for passed in range(0, 1800, 2):
        read = passed - passed % 60
        sensors = motion(4.0 * max(0, read - 6), 1000.0 + read)
        answers.add(watch.see(seen(at=1000.0 + passed, needed=9000.0 - 4.0 * passed, sensors=sensors)).present)
    assert answers == {False}


def test_a_counter_that_begins_anew_and_a_job_taken_for_another_file_begin_the_comparison_anew(
    feeding: Any, watched: Watched
) -> None:
    watch = watched(feed_slipping)
    for look in feeding(400):
        assert watch.see(look).present is False
    for look in feeding(400, begin=1400.0):
        low = motion(look.sensors[0].value - 700.0, look.at)
        assert watch.see(replace(look, sensors=low, needed=look.needed - 3000.0)).present is False


def test_frozen_and_thawed_at_any_look_it_says_the_same(feeding: Any, watched: Watched) -> None:
    kept = TypeAdapter(Memory)
    straight, restarted = watched(feed_slipping), watched(feed_slipping)
    for look in feeding(700, share=lambda made: 0.2 if made > 900 else 1.0):
        restarted.memory = kept.validate_json(kept.dump_json(restarted.memory))
        assert restarted.see(look) == straight.see(look)


def test_a_time_without_sight_begins_the_comparison_anew(feeding: Any, watched: Watched) -> None:
    """What was asked for meanwhile was seen by nobody."""
    watch = watched(feed_slipping)
    for look in feeding(300):
        watch.see(look)
    for look in feeding(300, begin=2000.0):
        assert watch.see(replace(look, sighted_since=2000.0, needed=look.needed - 250.0)).present is False


def test_healthy_feeding_runs_as_long_as_it_says() -> None:
    """Stretches of 5 mm, of which 97 % are measured with 1.5 mm of noise."""
    limits, noise = Limits(), 1.5
    drift = (limits.share - 0.97) * 5 / noise
    stretches = siegmund(0.0, limits.share * limits.over / noise, drift)
    assert stretches * 5 / 1e6 > 100  # km


def test_a_spool_that_grips_and_lets_go_is_one_finding(feeding: Any, watched: Watched) -> None:
    """35 s without filament, 45 s with it: somebody who was told once need not be told every minute."""
    watch = watched(feed_slipping)
    answers = [watch.see(look).present for look in feeding(1500, share=lambda made: 0.0 if made % 320 > 180 else 1.0)]
    first = answers.index(True)
    assert first * PERIOD < 140
    assert set(answers[first:]) == {True}
