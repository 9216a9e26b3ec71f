"""Hot idle: the dose against the closed form, and when it is told."""

import itertools
from collections.abc import Callable, Iterable
from math import exp, log, pi
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from watchdog.core.detectors import hot_idle
from watchdog.core.dose import GAS, Kinetics, gained, purge, rate, share_left
from watchdog.core.snapshot import Execution, Heater, Hotend, Snapshot

Seen = Callable[..., Snapshot]
Watched = Callable[..., Any]

PLA = hot_idle.kinetics(hot_idle.Limits())
"""119 kJ/mol = 28.5 kcal/mol: McNeill & Leiper 1985, Polym. Degrad. Stab., isothermal degradation of polylactide"""


def idle(seen: Seen, at: float, celsius: float = 200.0, target: float | None = 200.0, **changes: Any) -> Snapshot:
    return seen(at=at, nozzle=(celsius, target), **{"execution": Execution.READY, **changes})


def closed_form(celsius: Callable[[float], float], seconds: float, steps: int = 200_000) -> float:
    """Equivalent minutes of PLA by the midpoint rule in fine steps, written out here once more."""
    step = seconds / steps
    total = 0.0
    for number in range(steps):
        kelvin = celsius((number + 0.5) * step) + 273.15
        total += exp(-(119_000 / 8.314462618) * (1 / kelvin - 1 / 473.15))
    return total * step / 60


def told_at(watch: Any, snapshots: Iterable[Snapshot]) -> float | None:
    return next((snapshot.at for snapshot in snapshots if watch.see(snapshot).present), None)


def test_the_activation_energy_is_the_published_one() -> None:
    assert PLA.activation == pytest.approx(28.5 * 4.184, abs=0.5)  # kcal/mol, McNeill & Leiper 1985


@pytest.mark.parametrize(
    ("celsius", "weight", "minutes"),
    [
        (160, 0.0612, 163.4),
        (170, 0.1290, 77.51),
        (180, 0.2631, 38.00),
        (190, 0.5204, 19.22),
        (195, 0.7239, 13.81),
        (200, 1.0, 10.0),
        (205, 1.3721, 7.29),
        (210, 1.8703, 5.35),
        (220, 3.4102, 2.93),
        (230, 6.0714, 1.65),
        (250, 18.013, 0.555),
    ],
)
def test_a_minute_counts_as_the_arrhenius_law_says(celsius: float, weight: float, minutes: float) -> None:
    assert rate(PLA, celsius) == pytest.approx(weight, rel=1e-3)
    assert 10 / rate(PLA, celsius) == pytest.approx(minutes, rel=2e-3)


def test_below_the_glass_transition_nothing_counts() -> None:
    assert rate(PLA, 59.9) == 0.0
    assert rate(PLA, 60.1) > 0.0


@pytest.mark.parametrize(
    ("course", "seconds", "dose"),
    [
        (lambda t: 200.0, 1800, 30.000),
        (lambda t: 160.0, 1800, 1.836),
        (lambda t: 210.0 if t < 300 else 190.0, 1500, 19.760),
        (lambda t: 200 + t / 20, 600, 28.614),
        (lambda t: 230 - t / 20, 600, 28.614),
    ],
    ids=["hot", "standby", "step", "ramp up", "ramp down"],
)
def test_the_dose_is_the_closed_integral(
    seen: Seen, watched: Watched, course: Callable[[float], float], seconds: int, dose: float
) -> None:
    """A dose that is off tells a teacher to purge a nozzle that needs none, or stays quiet over a browned one."""
    watch = watched(hot_idle)
    for at in range(seconds + 1):
        watch.see(idle(seen, float(at), course(at)))
    assert closed_form(course, seconds) == pytest.approx(dose, rel=3e-4)
    assert watch.memory.dose == pytest.approx(dose, rel=2e-3)


def test_minute_samples_are_good_to_three_in_a_thousand(seen: Seen, watched: Watched) -> None:
    watch = watched(hot_idle)
    for at in range(0, 601, 60):
        watch.see(idle(seen, float(at), 200 + at / 20))
    assert watch.memory.dose == pytest.approx(28.684, abs=1e-3)


@given(
    activation=st.floats(40, 250),
    course=st.lists(st.tuples(st.floats(1, 300), st.floats(155, 260)), min_size=2, max_size=20),
)
@settings(deadline=None)
def test_the_sum_is_the_trapezium_of_any_course(activation: float, course: list[tuple[float, float]]) -> None:
    kinetics = Kinetics(activation, 200, 60)
    total = expected = 0.0
    for (seconds, before), (_, after) in itertools.pairwise(course):
        total += gained(kinetics, seconds, before, after)
        weights = [exp(activation * 1000 / GAS * (1 / 473.15 - 1 / (celsius + 273.15))) for celsius in (before, after)]
        expected += seconds / 60 * sum(weights) / 2
    assert total == pytest.approx(expected, rel=1e-9)


def test_purging_three_melts_leaves_one_dose_in_twenty() -> None:
    assert 30 * share_left(188.5, 62.83) == pytest.approx(1.494, abs=2e-3)
    assert purge(30, 62.83) == pytest.approx(213.7, abs=0.1)
    assert purge(0.9, 62.83) == 0.0


def test_it_is_told_when_ten_equivalent_minutes_are_reached(seen: Seen, watched: Watched) -> None:
    at = told_at(watched(hot_idle), (idle(seen, float(at)) for at in range(3000)))
    assert at == pytest.approx(600, abs=1)


def test_a_hotter_nozzle_is_told_sooner_and_a_setback_later(seen: Seen, watched: Watched) -> None:
    assert told_at(watched(hot_idle), (idle(seen, float(at), 205, 205) for at in range(3000))) == pytest.approx(
        437.3, abs=2
    )
    assert told_at(watched(hot_idle), (idle(seen, float(at), 195, 195) for at in range(3000))) == pytest.approx(
        828.9, abs=2
    )


def test_never_before_the_floor_however_hot(seen: Seen, watched: Watched) -> None:
    """A pupil's question in between must not cost a message."""
    assert told_at(watched(hot_idle), (idle(seen, float(at), 250, 250) for at in range(3000))) == 300


def test_at_the_latest_at_the_cap_however_cool(seen: Seen, watched: Watched) -> None:
    assert told_at(watched(hot_idle), (idle(seen, float(at), 155, 155) for at in range(3000))) == 1200


@pytest.mark.parametrize(
    "execution",
    [
        Execution.READY,
        Execution.PAUSED,
        Execution.WAITING,
        Execution.STOPPED,
        Execution.COMPLETE,
        Execution.FAULTED,
    ],
)
def test_every_state_without_building_counts(seen: Seen, watched: Watched, execution: Execution) -> None:
    frames = (idle(seen, float(at), execution=execution) for at in range(0, 3000, 2))
    assert told_at(watched(hot_idle), frames) == pytest.approx(600, abs=2)


def test_a_job_that_builds_is_no_idle_and_starts_the_dose_anew(seen: Seen, watched: Watched) -> None:
    watch = watched(hot_idle)
    assert told_at(watch, (idle(seen, float(at)) for at in range(500))) is None
    assert told_at(watch, (seen(at=float(at)) for at in range(500, 9000, 5))) is None
    assert watch.memory == hot_idle.Memory()
    assert told_at(watch, (idle(seen, float(at)) for at in range(9000, 12000))) == pytest.approx(9600, abs=1)


def test_a_bed_that_takes_twelve_minutes_is_no_idle(seen: Seen, watched: Watched) -> None:
    """The nozzle stands at its target while the bed heats for the job: nothing for a teacher to do."""
    watch = watched(hot_idle)
    frames = (idle(seen, float(at), execution=Execution.PREPARING, heating_up=True, bed=(40, 60)) for at in range(720))
    assert told_at(watch, frames) is None
    assert watch.see(seen(at=721.0)).present is False


def test_preheating_without_a_job_is_not_held_against_the_person_before_the_cap(seen: Seen, watched: Watched) -> None:
    watch = watched(hot_idle)
    assert told_at(watch, (idle(seen, float(at), heating_up=True) for at in range(720))) is None
    assert watch.memory.dose == pytest.approx(12, rel=0.01)
    assert told_at(watch, (idle(seen, float(at)) for at in range(720, 2000))) == pytest.approx(1200, abs=1)


def test_preparing_at_the_target_for_too_long_is_told(seen: Seen, watched: Watched) -> None:
    frames = (idle(seen, float(at), execution=Execution.PREPARING) for at in range(3000))
    assert told_at(watched(hot_idle), frames) == pytest.approx(1200, abs=1)


@pytest.mark.parametrize("constant", [60.0, 162.5, 625.0, 1260.0])
def test_a_nozzle_that_cools_after_a_job_is_not_told(seen: Seen, watched: Watched, constant: float) -> None:
    """Time constants as measured on light and on old heavy hot ends."""
    watch = watched(hot_idle)
    frames = (idle(seen, float(at), 25 + 180 * exp(-at / constant), 0.0) for at in range(3000))
    assert told_at(watch, frames) is None
    assert 0 < watch.memory.dose < 4


def test_switching_the_heater_off_brings_it_back_by_itself(seen: Seen, watched: Watched) -> None:
    watch = watched(hot_idle)
    assert told_at(watch, (idle(seen, float(at)) for at in range(700))) is not None
    assert not any(watch.answers(*(idle(seen, 700.0 + at, 25 + 175 * exp(-at / 162.5), 0.0) for at in range(900))))


def test_a_heater_that_is_off_but_does_not_cool_is_told(seen: Seen, watched: Watched) -> None:
    assert told_at(watched(hot_idle), (idle(seen, float(at), 200, 0.0) for at in range(3000))) == pytest.approx(
        600, abs=1
    )


def test_a_job_that_becomes_active_brings_it_back(seen: Seen, watched: Watched) -> None:
    watch = watched(hot_idle)
    assert told_at(watch, (idle(seen, float(at)) for at in range(700))) is not None
    assert watch.see(idle(seen, 701.0, execution=Execution.PREPARING, execution_since=701.0)).present is False


def test_what_it_gained_before_it_was_cold_is_remembered_but_not_held_against_the_next_heat(
    seen: Seen, watched: Watched
) -> None:
    watch = watched(hot_idle)
    for at in range(540):
        watch.see(idle(seen, float(at)))
    for at in range(540, 600):
        watch.see(idle(seen, float(at), 100.0, 0.0))
    again = told_at(watch, (idle(seen, float(at)) for at in range(600, 3000)))
    assert again == pytest.approx(1200, abs=1)
    assert watch.memory.dose == pytest.approx(19, abs=0.2)


def test_a_gap_counts_as_if_it_had_stayed_hot(seen: Seen, watched: Watched) -> None:
    """A cable that was out for a quarter of an hour over a hot nozzle has not kept the plastic fresh."""
    watch = watched(hot_idle)
    watch.see(idle(seen, 0.0))
    kept = watch.memory
    assert watch.see(seen(at=400.0, nozzle=Heater(), execution=Execution.READY)).present is None
    assert watch.memory is kept
    assert watch.see(idle(seen, 900.0)).present is True
    assert watch.memory.dose == pytest.approx(15)


@pytest.mark.parametrize(
    "unknown",
    [
        {"nozzle": Heater()},
        {"hotend": Hotend.UNKNOWN},
        {"execution": Execution.UNAVAILABLE},
    ],
    ids=["no reading", "no reading that can be", "no state"],
)
def test_what_cannot_be_seen_cannot_be_told(seen: Seen, watched: Watched, unknown: dict[str, Any]) -> None:
    watch = watched(hot_idle)
    assert told_at(watch, (idle(seen, float(at)) for at in range(700))) is not None
    kept = watch.memory
    blind = {"at": 701.0, "nozzle": (200.0, 200.0), "execution": Execution.READY, **unknown}
    assert watch.see(seen(**blind)).present is None
    assert watch.memory is kept


def test_a_damaged_reading_adds_no_dose_and_takes_no_message_back(seen: Seen, watched: Watched) -> None:
    """A lost dot or digit on the wire reads as 320 °C or as 20 °C."""
    watch = watched(hot_idle)
    assert told_at(watch, (idle(seen, float(at)) for at in range(700))) is not None
    dose = watch.memory.dose
    assert watch.answers(idle(seen, 605.0, 320.0), idle(seen, 606.0, 20.0), idle(seen, 607.0)) == [None, None, True]
    assert watch.memory.dose == pytest.approx(dose + 7 / 60, abs=0.02)


def test_seen_flow_thins_the_dose_out_and_a_replaced_melt_starts_the_time_anew(seen: Seen, watched: Watched) -> None:
    watch = watched(hot_idle)
    for at in range(601):
        watch.see(idle(seen, float(at)))
    assert watch.see(idle(seen, 600.0)).present is True
    area = pi * 1.75**2 / 4
    assert watch.see(idle(seen, 601.0, flowed=188.5 / area)).present is False
    assert watch.memory.dose == pytest.approx(10 * exp(-188.5 / 62.83), rel=0.01)
    assert watch.memory.hot_since == 601.0


@pytest.mark.parametrize(
    ("minutes", "advice"),
    [(11, "cool or start"), (31, f"purge {round(62.83 * log(31))} mm³"), (121, "inspect the nozzle"), (481, "left on")],
)
def test_the_advice_grows_with_the_dose(seen: Seen, watched: Watched, minutes: int, advice: str) -> None:
    watch = watched(hot_idle)
    watch.see(idle(seen, 0.0))
    finding = watch.see(idle(seen, minutes * 60.0))
    assert finding.evidence["advice"] == advice
    assert finding.evidence["dose_min"] == pytest.approx(minutes)
    assert finding.evidence["nozzle"] == 200.0


@given(st.lists(st.floats(-2, 2), min_size=50, max_size=50))
@settings(max_examples=20, deadline=None)
def test_noise_at_the_melting_point_does_not_make_it_come_and_go(
    seen: Seen, watched: Watched, noise: list[float]
) -> None:
    watch = watched(hot_idle)
    answers = watch.answers(*(idle(seen, at, 151 + noise[at % 50]) for at in range(0, 1500, 3)))
    assert answers[-1] is True
    assert sum(one != other for one, other in itertools.pairwise(answers)) == 1
