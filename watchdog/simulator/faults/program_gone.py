"""The program that streams a job ends in the middle of it, and with it the log; the machine keeps its heat.

A restart for maintenance does the same. A card job is left alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    if machine.computer is not None:
        machine.computer.gone = True


FAULT = Fault(
    "program-gone",
    "The program that streams a job ends in the middle of it; the machine keeps its heat.",
    strike,
)
