"""The nozzle's sensor has lost a lead."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.nozzle.sensor = "open"


def heal(machine: SimulatedMachine) -> None:
    if machine.nozzle.sensor == "open":
        machine.nozzle.sensor = "good"


FAULT = Fault(
    "sensor-open",
    "The nozzle's sensor has lost a lead.",
    strike,
    heal,
)
