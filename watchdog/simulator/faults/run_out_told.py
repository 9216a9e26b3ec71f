"""The spool is empty; the machine's sensor sees it, and the job waits for somebody."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.filament.arrives = 0.0
    machine.controller.run_out()


def heal(machine: SimulatedMachine) -> None:
    machine.filament.arrives = 1.0
    machine.panel.confirm()


FAULT = Fault(
    "run-out-told",
    "The spool is empty; the machine's sensor sees it, and the job waits for somebody.",
    strike,
    heal,
)
