"""A heater that heats on although it is off: the mains meter speaks against the controller, and the heat does not fall."""

from collections.abc import Callable
from math import exp, inf
from typing import Any

import pytest

from watchdog.core.detectors import heat_runaway
from watchdog.core.sensors import HEATS
from watchdog.core.snapshot import Execution, Heater, Sensed, SensorKind, Snapshot

Seen = Callable[..., Snapshot]
Watched = Callable[..., Any]
Course = Callable[[float], float]

ROOM, BEGAN, HOT = 24.0, 1000.0, 205.0
COLD: Course = lambda t: ROOM  # noqa: E731 - a course like the others
STANDS: Course = lambda t: HOT + 0.3 * (t % 3)  # noqa: E731


def meter(watts: float | None, since: float = BEGAN) -> tuple[Sensed, ...]:
    return (Sensed("doorway-1-mains", SensorKind.MAINS_POWER, watts, BEGAN, watts is None, since=since),)


def heater(course: Course, t: float, target: float | None = 0.0, pace: float = 2.0) -> Heater:
    at = BEGAN + t
    return Heater(round(course(t), 1), target, 0, 127, at, round(course(t - pace), 1), at - pace, target_since=BEGAN)


@pytest.fixture
def told(seen: Seen, watched: Watched) -> Callable[..., tuple[float, dict[str, Any]] | None]:
    """(s, evidence) at which a machine that has been off since 0 s is told; None when it is not within half an hour."""

    def look(
        nozzle: Course = COLD,
        bed: Course = COLD,
        watts: Callable[[float], float | None] = lambda t: 60.0,
        bed_target: float | None = 0.0,
        pace: float = 2.0,
        skip: Callable[[float], bool] = lambda t: False,
        execution: Execution = Execution.READY,
    ) -> tuple[float, dict[str, Any]] | None:
        watch = watched(heat_runaway)
        t = pace
        before = 0.0
        while t < 1800:
            if not skip(t):
                hot, plate = heater(nozzle, t, pace=t - before), heater(bed, t, bed_target, t - before)
                scene = seen(at=BEGAN + t, nozzle=hot, bed=plate, sensors=meter(watts(t)), execution=execution)
                finding = watch.see(scene)
                if finding.present:
                    return t, dict(finding.evidence)
                before = t
            t += pace
        return None

    return look


def test_a_nozzle_that_stays_hot_and_draws_power_with_its_target_at_zero_is_told(told: Callable[..., Any]) -> None:
    """The controller says off and believes it; without the meter nothing tells a stuck switch that just holds the heat."""
    at, evidence = told(nozzle=STANDS)
    assert at == pytest.approx(60 + 120, abs=4)
    assert (evidence["heater"], evidence["target"], evidence["mains_w"]) == ("nozzle", 0.0, 60.0)
    assert told(nozzle=STANDS, watts=lambda t: None) is None


def test_a_bed_that_is_held_warm_is_told_too(told: Callable[..., Any]) -> None:
    at, evidence = told(bed=lambda t: 70.0)
    assert (evidence["heater"], evidence["bed"]) == ("bed", 70.0)
    assert at == pytest.approx(180, abs=4)


@pytest.mark.parametrize(
    "course",
    [
        {"nozzle": lambda t: ROOM + 181 * exp(-t / 1260)},
        {"bed": lambda t: round(ROOM + 46 * exp(-t / 3600), 1)},
        {"nozzle": COLD, "bed": COLD},
        {"nozzle": lambda t: 50.0},
        {"nozzle": lambda t: ROOM + 50 * (1 - exp(-t / 300)), "bed": lambda t: ROOM + 76 * exp(-t / 3600)},
    ],
    ids=["a nozzle that cools slowly", "a bed that cools slowly", "a lamp", "a warm room", "warmed by the bed"],
)
def test_power_alone_is_no_runaway_and_neither_is_heat_that_falls(told: Callable[..., Any], course: Any) -> None:
    """A lamp, a pump or a dryer on the same meter; the message would send somebody to the wall switch."""
    assert told(**course, watts=lambda t: 90.0) is None


@pytest.mark.parametrize(
    "case",
    [
        {"watts": lambda t: HEATS - 1},
        {"execution": Execution.BUILDING},
        {"execution": Execution.UNAVAILABLE},
        {"bed_target": 60.0},
        {"bed_target": None},
        {"watts": lambda t: 60.0 if t % 100 else None},
        {"skip": lambda t: t % 100 > 40},
    ],
    ids=["board and fans", "a job", "not seen", "bed on", "bed not told", "a meter with gaps", "readings with gaps"],
)
def test_what_can_be_something_else_is_not_told(told: Callable[..., Any], case: dict[str, Any]) -> None:
    assert told(nozzle=STANDS, **case) is None


@pytest.mark.parametrize("misread", [13.6, 293.6])
def test_one_damaged_reading_is_no_heat(told: Callable[..., Any], misread: float) -> None:
    falls: Course = lambda t: misread if t == 80 else ROOM + 181 * exp(-t / 1260)  # noqa: E731
    assert told(nozzle=falls) is None
    assert told(nozzle=lambda t: misread if t == 80 else ROOM) is None


def test_it_stands_until_the_heat_has_fallen(seen: Seen, watched: Watched) -> None:
    """Cut from the wall the meter shows nothing at once; the nozzle is as hot as before."""
    watch, course = watched(heat_runaway), lambda t: HOT if t < 300 else HOT - (t - 300) / 2
    answers = {}
    for t in range(2, 400, 2):
        drawn = meter(60.0) if t < 300 else meter(0.0, BEGAN + 300)
        scene = seen(at=BEGAN + t, nozzle=heater(course, t), bed=(ROOM, 0.0), sensors=drawn, execution=Execution.READY)
        answers[t] = watch.see(scene).present
    assert (answers[150], answers[200], answers[304], answers[330]) == (False, True, True, False)


def test_another_alarm_of_heat_tells_what_the_mains_show(seen: Seen, watched: Watched) -> None:
    watch = watched(heat_runaway)
    for t in range(0, 60, 2):
        rises = heater(lambda t: ROOM + 3.0 * t, t)
        scene = seen(at=BEGAN + t, nozzle=rises, bed=(ROOM, 0.0), sensors=meter(55.0, -inf), execution=Execution.READY)
        finding = watch.see(scene)
    assert (finding.present, finding.evidence["mains_w"]) == (True, 55.0)
