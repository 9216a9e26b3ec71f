"""The card is taken out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.panel.pull_card()


def heal(machine: SimulatedMachine) -> None:
    machine.panel.insert_card()


FAULT = Fault(
    "card-pulled",
    "The card is taken out.",
    strike,
    heal,
)
