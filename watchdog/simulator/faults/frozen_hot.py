"""The controller hangs: no answer any more, heater outputs stay as they were, guards asleep.

What the queue of moves still holds is executed, as its interrupts run on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.controller.frozen = True


def heal(machine: SimulatedMachine) -> None:
    if machine.controller.frozen:
        machine.controller.thaw()


FAULT = Fault(
    "frozen-hot",
    "The controller hangs: no answer any more, heater outputs stay as they were, guards asleep.",
    strike,
    heal,
)
