"""The spool is empty, and the machine has no sensor for it: it goes on without plastic.

On the wire the same as a blocked nozzle.
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
    "run-out-unseen",
    "The spool is empty, and the machine has no sensor for it: it goes on without plastic.",
    strike,
    heal,
)
