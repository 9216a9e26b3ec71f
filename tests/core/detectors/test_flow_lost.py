"""Flow lost: what the heater's power says, and what it cannot say."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from random import Random
from typing import Any

import pytest

from watchdog.core import melt
from watchdog.core.detectors import flow_lost
from watchdog.core.snapshot import Execution, Heater, Job, Snapshot, Usual

Seen = Callable[..., Snapshot]
Watched = Callable[..., Any]

FLOW = 1.5  # mm/s
LEVEL = 0.36  # of 127, for each K above the room: a 40 W heater at half of its power
NOISE = 0.004
USUAL = {
    "flow-power": Usual(LEVEL, 0.01 * LEVEL, 8),
    "flow": Usual(FLOW, 0.1, 8),
    "flow-noise": Usual(NOISE, 0.0, 8),
    "melt-share": Usual(melt.MELTS, 0.0, 8),
}
FULL = melt.taken(LEVEL, FLOW, melt.MELTS) * FLOW  # what all of the flow takes


def building(
    seen: Seen, job: Job, seconds: int, level: Callable[[int], float] = lambda _: LEVEL, seed: int = 3, **changes: Any
) -> Iterator[Snapshot]:
    """A job that builds from 0 s on, read every 2 s; `level` is the power for each K at a second."""
    random = Random(seed)
    told: dict[str, Any] = {"usual": USUAL, "flow_planned": FLOW, **changes}
    nozzle = Heater()
    for at in range(seconds):
        if at % 2 == 0:
            off = random.gauss(0, 0.1)
            power = (level(at) + random.gauss(0, NOISE * 5)) * (205 - melt.ROOM) - 25 * off
            nozzle = Heater(205.0 + off, 205.0, round(power), 127, float(at), 205.0, at - 2.0, -100.0)
        yield seen(at=float(at), nozzle=nozzle, job=replace(job, building_since=0.0), **told)


def told_at(watch: Any, snapshots: Iterator[Snapshot]) -> float | None:
    return next((snapshot.at for snapshot in snapshots if watch.see(snapshot).present), None)


def test_power_that_falls_by_what_the_flow_takes_is_told(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(flow_lost)
    at = told_at(watch, building(seen, job, 1200, lambda at: LEVEL - FULL * (at >= 600)))
    assert at is not None
    assert 600 < at <= 750
    evidence = watch.memory.last.evidence
    assert evidence["power_short_percent"] == pytest.approx(100 * FULL / LEVEL, abs=3)
    assert evidence["flow_takes_percent"] == pytest.approx(100 * FULL / LEVEL, abs=0.5)


@pytest.mark.parametrize("seed", range(20))
def test_a_healthy_job_of_two_hours_is_never_told(seen: Seen, watched: Watched, job: Job, seed: int) -> None:
    watch = watched(flow_lost)
    assert told_at(watch, building(seen, job, 7200, seed=seed)) is None
    assert watch.memory.last.present is False


def test_a_room_that_differs_as_past_jobs_did_is_no_loss(seen: Seen, watched: Watched, job: Job) -> None:
    """A window opened before the lesson must not call anybody."""
    low = LEVEL * 0.99
    assert told_at(watched(flow_lost), building(seen, job, 3600, lambda _: low)) is None


def test_a_speed_knob_turned_down_lowers_flow_and_power_alike(seen: Seen, watched: Watched, job: Job) -> None:
    slow = 0.75
    level = melt.due(LEVEL, FLOW, melt.MELTS, slow)
    watch = watched(flow_lost)
    assert told_at(watch, building(seen, job, 900)) is None
    rest = (replace(frame, at=frame.at + 900, flow_planned=slow) for frame in building(seen, job, 900, lambda _: level))
    assert told_at(watch, rest) is None


def test_more_than_the_whole_flow_takes_is_no_lost_flow(seen: Seen, watched: Watched, job: Job) -> None:
    """A part fan that goes off takes a quarter of the power with it: what is left says nothing of plastic."""
    watch = watched(flow_lost)
    assert told_at(watch, building(seen, job, 1200, lambda at: LEVEL * (1 - 0.25 * (at >= 600)))) is None
    assert watch.memory.last.present is None


@pytest.mark.parametrize(
    "changes",
    [
        {"usual": {}},
        {"flow_planned": None},
        {"flow_planned": 0.1},
        {"usual": {**USUAL, "flow-noise": Usual(FULL, 0.0, 8)}},
        {"active": None},
    ],
    ids=["nothing learnt", "no plan", "hardly any flow", "noise hides it", "not known whether a job runs"],
)
def test_where_nobody_can_tell_nothing_is_told(seen: Seen, watched: Watched, job: Job, changes: dict[str, Any]) -> None:
    watch = watched(flow_lost)
    assert told_at(watch, building(seen, job, 1200, lambda at: LEVEL - FULL * (at >= 600), **changes)) is None
    assert watch.see(next(building(seen, job, 1, **changes))).present is None


def test_the_first_minutes_tell_nothing(seen: Seen, watched: Watched, job: Job) -> None:
    """The part fan comes on and the first layer is slow."""
    watch = watched(flow_lost)
    answers = {watch.see(frame).present for frame in building(seen, job, 150, lambda _: LEVEL - FULL)}
    assert answers == {None}


def test_a_jam_from_the_beginning_is_told_by_past_jobs(seen: Seen, watched: Watched, job: Job) -> None:
    at = told_at(watched(flow_lost), building(seen, job, 900, lambda _: LEVEL - FULL))
    assert at is not None
    assert at <= 330


def test_flow_that_comes_back_takes_it_back_and_a_hold_forgets_it(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(flow_lost)
    assert told_at(watch, building(seen, job, 900, lambda at: LEVEL - FULL * (at >= 400))) is not None
    again = [replace(frame, at=frame.at + 900) for frame in building(seen, job, 400)]
    answers = [watch.see(frame).present for frame in again]
    assert answers[0] is True
    assert answers[-1] is False
    held = replace(again[-1], at=1400.0, execution=Execution.PAUSED)
    assert watch.see(held).present is False
    assert watch.memory.missing == 0.0


def test_another_target_begins_anew(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(flow_lost)
    told_at(watch, building(seen, job, 600))
    assert len(watch.memory.own) == 6
    watch.see(
        seen(at=601.0, nozzle=(215.0, 215.0), usual=USUAL, flow_planned=FLOW, job=replace(job, building_since=0.0))
    )
    assert watch.memory.own == ()
