"""One byte in three hundred on the wire has a wrong bit, either way: a question may arrive as an order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.bit_errors = 1 / 300


def heal(machine: SimulatedMachine) -> None:
    machine.bit_errors = machine.options.bit_errors


FAULT = Fault(
    "noise",
    "One byte in three hundred on the wire has a wrong bit, either way: a question may arrive as an order.",
    strike,
    heal,
)
