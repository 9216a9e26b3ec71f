"""Reads from the card bring nothing: the controller answers, the byte counter stands, the heat stays.

A bad contact of the card does this on some controllers, without a word.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.card.stuck = True


def heal(machine: SimulatedMachine) -> None:
    machine.card.stuck = False
    machine.controller.slots.work()


FAULT = Fault(
    "stall",
    "Reads from the card bring nothing: the controller answers, the byte counter stands, the heat stays.",
    strike,
    heal,
)
