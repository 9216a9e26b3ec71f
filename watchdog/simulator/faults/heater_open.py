"""The nozzle's heater has lost a lead: no power at all."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.nozzle.strength = 0.0


def heal(machine: SimulatedMachine) -> None:
    machine.nozzle.strength = 1.0


FAULT = Fault(
    "heater-open",
    "The nozzle's heater has lost a lead: no power at all.",
    strike,
    heal,
)
