"""The cable to the host is pulled out; the machine goes on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.panel.unplug()


def heal(machine: SimulatedMachine) -> None:
    machine.panel.replug()


FAULT = Fault(
    "cable-pulled",
    "The cable to the host is pulled out; the machine goes on.",
    strike,
    heal,
)
