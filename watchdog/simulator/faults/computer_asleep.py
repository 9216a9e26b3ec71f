"""The computer that streams a job falls asleep, for some minutes; the machine keeps its heat.

90 to 400 s, drawn: it wakes by itself or because somebody touches it. A card job is left alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    if machine.computer is not None:
        machine.computer.asleep_until = machine.now + machine.random.uniform(90.0, 400.0)


def heal(machine: SimulatedMachine) -> None:
    if machine.computer is not None:
        machine.computer.asleep_until = 0.0


FAULT = Fault(
    "computer-asleep",
    "The computer that streams a job falls asleep for some minutes; the machine keeps its heat.",
    strike,
    heal,
)
