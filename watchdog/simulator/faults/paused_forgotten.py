"""The job is held at the panel and forgotten."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.panel.pause()


def heal(machine: SimulatedMachine) -> None:
    machine.panel.resume()


FAULT = Fault(
    "paused-forgotten",
    "The job is held at the panel and forgotten.",
    strike,
    heal,
)
