"""The heat of one body: a block with a heater, seen through a sensor that lags.

    heater power = G (T − Ta) + C dT/dt        one body, first order, linear loss
    T(t) = T∞ + (T0 − T∞) exp(−t / τ)          T∞ = Ta + P/G,  τ = C/G

Each step uses the exact solution for constant power, so any step length is as good as another for the block. The reference
hot end (C 13 J/K, G 0.08 W/K, 40 W) is a typical small block, built up from part masses and checked against a hobby
measurement of 30 % duty at 220 °C; the bed is typical for 220 × 220 mm. Both: common practice, no source.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp
from typing import NamedTuple

STEP = 0.5
"""s between two looks of the controller at its heaters"""

MELT = 1.24e-3 * 1.8
"""J/(mm³ K): PLA density 1.24 g/cm³ times one specific heat 1.8 J/(g K) (resin maker's data sheets)"""


@dataclass(frozen=True, slots=True)
class Body:
    """One heated body. Defaults: the reference hot end."""

    watts: float = 40.0
    capacity: float = 13.0
    """J/K"""
    loss: float = 0.08
    """W/K to the room"""
    fan_loss: float = 0.05
    """W/K more with the part-cooling fan at full speed"""
    lag: float = 2.0
    """s: time constant of the sensor"""
    dead_steps: int = 1
    """steps until the sensor begins to feel a change"""
    noise: float = 0.08
    """°C, standard deviation of one reading"""


HOT_END = Body()
BED = Body(watts=220.0, capacity=700.0, loss=1.3, fan_loss=0.0, lag=6.0, dead_steps=2, noise=0.04)


class Warmth(NamedTuple):
    """The state of a body."""

    block: float
    """°C"""
    sensor: float
    """°C that the sensor has"""
    past: tuple[float, ...]
    """°C of the block at the last step ends, oldest first: what the sensor still has to feel"""


def at_rest(body: Body, temperature: float) -> Warmth:
    """A body that has been at `temperature` (°C) for long."""
    return Warmth(temperature, temperature, (temperature,) * body.dead_steps)


def conductance(body: Body, fan: float = 0.0, flow: float = 0.0, more: float = 0.0) -> float:
    """W/K that leave the body. `fan` 0…1, `flow` of plastic in mm³/s (warmed from room temperature), `more` W/K besides."""
    return body.loss + body.fan_loss * fan + MELT * flow + more


def step(body: Body, warmth: Warmth, watts: float, loss: float, ambient: float, dt: float) -> Warmth:
    """The body `dt` s later, with `watts` put in and `loss` (W/K) held constant meanwhile."""
    block, sensor, past = warmth
    rest = ambient + watts / loss
    later = rest + (block - rest) * exp(-dt * loss / body.capacity)
    felt = past[0] if past else later
    return Warmth(later, felt + (sensor - felt) * exp(-dt / body.lag), (*past[1:], later) if past else past)


def blurred(body: Body, temperature: float, gauss: Callable[[float, float], float]) -> float:
    """One noisy reading of `temperature`."""
    return temperature + gauss(0.0, body.noise)
