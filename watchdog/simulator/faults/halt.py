"""Somebody presses the emergency stop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.panel.kill()


FAULT = Fault(
    "halt",
    "Somebody presses the emergency stop.",
    strike,
)
