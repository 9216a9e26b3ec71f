"""The fan duct has dropped: the part fan blows on the heater block.

0.16 W/K more: at 205 °C that is 29 W, more than a 40 W heater has left with the fan on.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.nozzle.draught = 0.16


def heal(machine: SimulatedMachine) -> None:
    machine.nozzle.draught = 0.0


FAULT = Fault(
    "fan-on-block",
    "The fan duct has dropped: the part fan blows on the heater block.",
    strike,
    heal,
)
