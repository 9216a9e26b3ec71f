"""The nozzle's sensor has slipped out and feels the room.

It cools within seconds while the block is heated unseen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.nozzle.sensor = "loose"


def heal(machine: SimulatedMachine) -> None:
    if machine.nozzle.sensor == "loose":
        machine.nozzle.sensor = "good"


FAULT = Fault(
    "sensor-loose",
    "The nozzle's sensor has slipped out and feels the room.",
    strike,
    heal,
)
