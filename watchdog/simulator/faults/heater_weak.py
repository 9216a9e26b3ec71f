"""The nozzle's heater gives 35 % of its power.

At 205 °C with the fan on the reference block needs 60 %.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.nozzle.strength = 0.35


def heal(machine: SimulatedMachine) -> None:
    machine.nozzle.strength = 1.0


FAULT = Fault(
    "heater-weak",
    "The nozzle's heater gives 35 % of its power.",
    strike,
    heal,
)
