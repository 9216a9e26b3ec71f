"""The nozzle's sensor has slipped half out of its hole: it feels 80 % of the heat.

The reading falls once; then the controller makes up for it, and the block is 45 °C too hot with a reading as ever.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.nozzle.contact = 0.8


def heal(machine: SimulatedMachine) -> None:
    machine.nozzle.contact = 1.0


FAULT = Fault(
    "sensor-slipping",
    "The nozzle's sensor has slipped half out of its hole: it feels 80 % of the heat.",
    strike,
    heal,
)
