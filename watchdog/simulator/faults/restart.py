"""The supply dips and the controller restarts.

The job is lost and the heaters are off.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault
from watchdog.simulator.states import State

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    if machine.controller.state is not State.OFF:
        machine.controller.reset("brown-out")


FAULT = Fault(
    "restart",
    "The supply dips and the controller restarts.",
    strike,
)
