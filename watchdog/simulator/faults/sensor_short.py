"""The nozzle's sensor is shorted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.nozzle.sensor = "short"


def heal(machine: SimulatedMachine) -> None:
    if machine.nozzle.sensor == "short":
        machine.nozzle.sensor = "good"


FAULT = Fault(
    "sensor-short",
    "The nozzle's sensor is shorted.",
    strike,
    heal,
)
