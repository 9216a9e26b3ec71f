"""Somebody turned the speed knob down to 60 %.

The job is late and all is well. Most families say nothing about it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.panel.speed(60.0)


def heal(machine: SimulatedMachine) -> None:
    machine.panel.speed(100.0)


FAULT = Fault(
    "speed-60",
    "Somebody turned the speed knob down to 60 %.",
    strike,
    heal,
)
