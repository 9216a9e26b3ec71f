"""The switch of the nozzle's heater conducts all the time.

No controller can turn that off; the block tends to some hundred degrees.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.nozzle.stuck_on = True


def heal(machine: SimulatedMachine) -> None:
    machine.nozzle.stuck_on = False


FAULT = Fault(
    "runaway",
    "The switch of the nozzle's heater conducts all the time.",
    strike,
    heal,
)
