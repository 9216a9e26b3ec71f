"""The converter at the port restarts: the link is gone for three seconds.

The machine goes on, and nobody needs to come.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.panel.unplug()
    machine.replugs_at = machine.now + 3.0


def heal(machine: SimulatedMachine) -> None:
    machine.panel.replug()


FAULT = Fault(
    "port-reset",
    "The converter at the port restarts: the link is gone for three seconds.",
    strike,
    heal,
)
