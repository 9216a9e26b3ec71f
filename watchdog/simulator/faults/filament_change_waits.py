"""The job asks for other filament, and nobody comes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault
from watchdog.simulator.gcode import read_order

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    change = read_order("M600")
    if change is not None:
        machine.controller.slots.order(change)


def heal(machine: SimulatedMachine) -> None:
    machine.panel.confirm()


FAULT = Fault(
    "filament-change-waits",
    "The job asks for other filament, and nobody comes.",
    strike,
    heal,
)
