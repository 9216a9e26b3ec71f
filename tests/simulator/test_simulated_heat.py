"""The physics against the closed forms of a first-order body."""

from dataclasses import replace
from math import exp, log
from random import Random

import pytest

from watchdog.simulator import guards, regulation
from watchdog.simulator.heat import BED, HOT_END, MELT, STEP, Body, at_rest, conductance, step
from watchdog.simulator.heater import Heater
from watchdog.simulator.regulation import Gains, Memory, Switch, regulate

AMBIENT = 25.0

# Heat-up of C = 13 J/K, G = 0.08 W/K from 25 °C, computed from t = −τ ln(1 − (T−Ta) G/P).
HEAT_UP = [
    (24, 0, 60, 20.16), (24, 0, 100, 46.75), (24, 0, 200, 142.3), (24, 0, 240, 204.9), (24, 1, 200, 295.5),
    (30, 0, 60, 15.92), (30, 0, 100, 36.26), (30, 0, 200, 102.1), (30, 0, 240, 138.4), (30, 1, 200, 142.0),
    (40, 0, 60, 11.79), (40, 0, 100, 26.41), (40, 0, 200, 70.00), (40, 0, 240, 91.34), (40, 1, 200, 84.11),
    (50, 0, 60, 9.36), (50, 0, 100, 20.77), (50, 0, 200, 53.38), (50, 0, 240, 68.51), (50, 1, 200, 60.70),
]  # fmt: skip


def passing(body: Body, start: float, target: float, watts: float, loss: float) -> float:
    """s until the simulated block passes `target`, interpolated inside a step of 0.25 s."""
    warmth, at, dt = at_rest(body, start), 0.0, 0.25
    while True:
        later = step(body, warmth, watts=watts, loss=loss, ambient=AMBIENT, dt=dt)
        if (later.block - target) * (warmth.block - target) <= 0:
            return at + dt * (target - warmth.block) / (later.block - warmth.block)
        warmth, at = later, at + dt
        assert at < 2000


@pytest.mark.parametrize(("watts", "fan", "target", "seconds"), HEAT_UP)
def test_the_block_heats_up_as_the_closed_form_says(watts: float, fan: int, target: float, seconds: float) -> None:
    loss = conductance(HOT_END, fan=fan)
    assert loss == pytest.approx(0.13 if fan else 0.08)
    formula = -13 / loss * log(1 - (target - AMBIENT) * loss / watts)
    assert formula == pytest.approx(seconds, rel=1e-3)
    assert passing(HOT_END, AMBIENT, target, watts, loss) == pytest.approx(formula, rel=1e-3)


@pytest.mark.parametrize(("target", "seconds"), [(190, 9.56), (170, 30.6), (60, 261.5), (50, 316.2)])
def test_the_block_cools_as_the_closed_form_says(target: float, seconds: float) -> None:
    assert -162.5 * log((target - AMBIENT) / 175) == pytest.approx(seconds, abs=0.05)
    assert passing(HOT_END, 200.0, target, 0.0, 0.08) == pytest.approx(seconds, abs=0.06)


@pytest.mark.parametrize(("watts", "slope"), [(24, 1.846), (30, 2.308), (40, 3.077), (50, 3.846)])
def test_the_first_second_rises_by_power_over_capacity(watts: float, slope: float) -> None:
    warmth = step(HOT_END, at_rest(HOT_END, AMBIENT), watts=watts, loss=0.08, ambient=AMBIENT, dt=0.01)
    assert (warmth.block - AMBIENT) / 0.01 == pytest.approx(slope, rel=1e-3)


def test_a_power_that_is_too_small_never_reaches_its_target() -> None:
    """A stuck fan or a weak heater shows as this: 10 W tend to 150 °C and stay there."""
    warmth = at_rest(HOT_END, AMBIENT)
    for _ in range(4000):
        warmth = step(HOT_END, warmth, watts=10.0, loss=0.08, ambient=AMBIENT, dt=1.0)
    assert warmth.block == pytest.approx(AMBIENT + 10 / 0.08, abs=1e-3)
    assert warmth.sensor == pytest.approx(warmth.block, abs=1e-3)


def test_a_step_may_be_cut_up_without_changing_the_block() -> None:
    """The exact solution: one step of 60 s and a hundred of 0.6 s end at the same temperature."""
    whole = step(HOT_END, at_rest(HOT_END, 180.0), watts=12.0, loss=0.1, ambient=20.0, dt=60.0)
    parts = at_rest(HOT_END, 180.0)
    for _ in range(100):
        parts = step(HOT_END, parts, watts=12.0, loss=0.1, ambient=20.0, dt=0.6)
    assert parts.block == pytest.approx(whole.block, abs=1e-9)


def test_the_sensor_lags_behind_the_block() -> None:
    """On a steady ramp a first-order sensor is behind by slope × (lag + dead time)."""
    warmth = at_rest(HOT_END, AMBIENT)
    for _ in range(40):
        before = warmth
        warmth = step(HOT_END, warmth, watts=40.0, loss=0.08, ambient=AMBIENT, dt=STEP)
    slope = (warmth.block - before.block) / STEP
    assert 1.0 < (warmth.block - warmth.sensor) / slope < 4.0


def test_flow_of_plastic_costs_what_it_takes_to_warm_it() -> None:
    """0.3906 W for each mm³/s at 200 °C from 25: density 1.24, one specific heat of 1.8 J/(g K)."""
    watts_per_flow = MELT * 175
    assert watts_per_flow == pytest.approx(0.3906, rel=1e-3)
    assert (conductance(HOT_END, flow=5.0) - conductance(HOT_END)) * 175 == pytest.approx(1.953, rel=1e-3)


def held(heater: Heater, target: float, seconds: float, *, fan: float = 0.0, flow: float = 0.0) -> tuple[float, float]:
    """Mean reading and mean duty over the second half of `seconds` at `target`."""
    random, readings, duties = Random(5), [], []
    heater.target = target
    steps = int(seconds / STEP)
    for nth in range(steps):
        heater.warm(powered=True, ambient=AMBIENT, fan=fan, flow=flow, random=random)
        assert heater.regulate(127, nth * STEP, guarded=True) is None
        if nth >= steps // 2:
            readings.append(heater.reading)
            duties.append(heater.duty)
    return sum(readings) / len(readings), sum(duties) / len(duties)


@pytest.mark.parametrize(
    ("target", "fan", "watts"),
    [(170, 0, 11.6), (200, 0, 14.0), (240, 0, 17.2), (200, 1, 22.75), (240, 1, 27.95)],
)
def test_the_steady_duty_is_the_holding_power(target: float, fan: int, watts: float) -> None:
    heater = Heater("nozzle", HOT_END, regulation.HOT_END, guards.HOT_END, ambient=AMBIENT)
    reading, duty = held(heater, target, 600.0, fan=fan)
    assert reading == pytest.approx(target, abs=0.3)
    assert duty * 40 == pytest.approx(watts, rel=0.02)


def test_flow_raises_the_duty_by_what_it_carries_away() -> None:
    heater = Heater("nozzle", HOT_END, regulation.HOT_END, guards.HOT_END, ambient=AMBIENT)
    _, still = held(heater, 200.0, 600.0)
    _, flowing = held(heater, 200.0, 600.0, flow=10.0)
    assert (flowing - still) * 100 == pytest.approx(9.77, abs=0.7)


def test_the_bed_is_slow_and_holds_its_target() -> None:
    heater = Heater("bed", BED, regulation.BED, guards.BED, ambient=AMBIENT)
    reading, duty = held(heater, 60.0, 1800.0)
    assert reading == pytest.approx(60.0, abs=0.3)
    assert duty * BED.watts == pytest.approx(BED.loss * 35.0, rel=0.03)
    # The closed form for full power all the way: minutes, not seconds.
    assert 100 < -BED.capacity / BED.loss * log(1 - 35.0 * BED.loss / BED.watts) < 200


def test_a_switched_bed_swings_around_its_target() -> None:
    heater = Heater("bed", BED, Switch(gap=1.0), guards.BED, ambient=AMBIENT)
    reading, duty = held(heater, 60.0, 3600.0)
    assert reading == pytest.approx(60.0, abs=1.5)
    assert 0.1 < duty < 0.35
    assert heater.duty in (0.0, 1.0)


def test_the_regulator_is_full_on_far_below_and_off_far_above() -> None:
    assert regulate(Gains(), Memory(), 200.0, 20.0, STEP)[1] == 1.0
    assert regulate(Gains(), Memory(), 200.0, 260.0, STEP)[1] == 0.0
    assert regulate(Gains(), Memory(integral=0.5), 0.0, 100.0, STEP) == (Memory(), 0.0)


def test_the_duty_comes_in_steps_of_the_controllers_scale() -> None:
    heater = Heater("nozzle", HOT_END, regulation.HOT_END, guards.HOT_END, ambient=AMBIENT)
    held(heater, 200.0, 60.0)
    assert heater.duty * 127 == pytest.approx(round(heater.duty * 127), abs=1e-9)


def test_a_heater_stuck_on_tends_to_ambient_plus_power_over_loss() -> None:
    """525 °C for 40 W with the fan off: past every plastic's limit."""
    heater = Heater("nozzle", HOT_END, regulation.HOT_END, guards.HOT_END, ambient=AMBIENT)
    heater.stuck_on = True
    random = Random(1)
    for _ in range(4000):
        heater.warm(powered=True, ambient=AMBIENT, fan=0.0, flow=0.0, random=random)
    assert heater.warmth.block == pytest.approx(525.0, abs=1.0)
    heater.warm(powered=False, ambient=AMBIENT, fan=0.0, flow=0.0, random=random)
    assert heater.warmth.block < 524.0  # only the switch at the wall ends it


def test_a_loose_sensor_falls_faster_than_any_block_can() -> None:
    """The block cannot fall faster than −2.6 K/s; a bare bead does, while the block is heated unseen."""
    heater = Heater("nozzle", HOT_END, regulation.HOT_END, guards.HOT_END, ambient=AMBIENT)
    held(heater, 200.0, 300.0)
    block, before = heater.warmth.block, heater.reading
    heater.sensor = "loose"
    random = Random(2)
    for nth in range(10):
        heater.warm(powered=True, ambient=AMBIENT, fan=0.0, flow=0.0, random=random)
        heater.regulate(127, nth * STEP, guarded=False)
    assert (before - heater.reading) / (10 * STEP) > 8.0
    assert heater.warmth.block > block


def test_less_voltage_is_much_less_power() -> None:
    """22.8 V in place of 24 V is 0.9025 of the watts, and the rise is slower in that measure."""
    weak = replace(HOT_END, watts=40 * (22.8 / 24) ** 2)
    start = at_rest(weak, AMBIENT)
    full = step(HOT_END, start, watts=HOT_END.watts, loss=0.08, ambient=AMBIENT, dt=1.0).block - AMBIENT
    less = step(weak, start, watts=weak.watts, loss=0.08, ambient=AMBIENT, dt=1.0).block - AMBIENT
    assert less / full == pytest.approx(0.9025, rel=1e-6)
    assert full == pytest.approx(500 * (1 - exp(-1 / 162.5)), rel=1e-9)
