"""The machine is warmed up for a job that nobody starts."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.panel.preheat(machine.options.material, 60.0)


def heal(machine: SimulatedMachine) -> None:
    machine.panel.cool()


FAULT = Fault(
    "preheat-forgotten",
    "The machine is warmed up for a job that nobody starts.",
    strike,
    heal,
    in_job=False,
)
