"""The heat dose of plastic that stands in a nozzle: Arrhenius-weighted time.

    a(T) = exp(-(Ea/R) (1/T - 1/Tref))     T, Tref in kelvin, Ea in J/mol; 0 below the glass transition
    dose = ∫ a(T) dt                       equivalent minutes at Tref

Where melt flows, fresh plastic thins the dose out: after W mm³ through a well-mixed melt of V mm³, exp(-W/V) is left.
"""

from math import exp, log
from typing import NamedTuple

GAS = 8.314462618  # J/(mol K), the molar gas constant (CODATA 2018)
KELVIN = 273.15  # K at 0 °C


class Kinetics(NamedTuple):
    """How one plastic degrades as a melt."""

    activation: float
    """kJ/mol"""
    reference: float
    """°C at which a minute counts as one"""
    glass_transition: float
    """°C below which nothing counts"""


def rate(kinetics: Kinetics, celsius: float) -> float:
    """Equivalent minutes that a minute at this temperature counts."""
    if celsius < kinetics.glass_transition:
        return 0.0
    return exp(-(kinetics.activation * 1000 / GAS) * (1 / (celsius + KELVIN) - 1 / (kinetics.reference + KELVIN)))


def gained(kinetics: Kinetics, seconds: float, before: float, after: float) -> float:
    """Equivalent minutes gained between two readings (°C), by trapezium."""
    return seconds / 60 * (rate(kinetics, before) + rate(kinetics, after)) / 2


def share_left(volume: float, melt_volume: float) -> float:
    """What is left of a dose after `volume` mm³ have flowed through the melt."""
    return exp(-volume / melt_volume)


def purge(dose: float, melt_volume: float) -> float:
    """mm³ to extrude until `dose` has come down to 1 equivalent minute; 0 when it is there."""
    return melt_volume * log(dose) if dose > 1 else 0.0
