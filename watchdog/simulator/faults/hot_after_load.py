"""Filament is loaded at the panel and the nozzle is left hot.

Nobody means to leave it: a question comes in between.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.panel.load_filament()


def heal(machine: SimulatedMachine) -> None:
    machine.panel.cool()


FAULT = Fault(
    "hot-after-load",
    "Filament is loaded at the panel and the nozzle is left hot.",
    strike,
    heal,
    in_job=False,
)
