"""Somebody turned the speed knob down to half.

Most families say nothing about it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.panel.speed(50.0)


def heal(machine: SimulatedMachine) -> None:
    machine.panel.speed(100.0)


FAULT = Fault(
    "slow",
    "Somebody turned the speed knob down to half.",
    strike,
    heal,
)
