"""Reads from the card fail, and the controller says so again and again."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.card.failing = True


def heal(machine: SimulatedMachine) -> None:
    machine.card.failing = False
    machine.controller.slots.work()


FAULT = Fault(
    "card-error",
    "Reads from the card fail, and the controller says so again and again.",
    strike,
    heal,
)
