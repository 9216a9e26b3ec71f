"""The nozzle is blocked: the filament stands, and every move goes on.

The controller knows nothing of it. The heater has no plastic to melt any more, and that is all that the wire shows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.filament.arrives = 0.0


def heal(machine: SimulatedMachine) -> None:
    machine.filament.arrives = 1.0


FAULT = Fault(
    "nozzle-jam",
    "The nozzle is blocked: the filament stands, and every move goes on.",
    strike,
    heal,
)
