"""The card's reader jumps back by a third of what it has read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.card.seek(machine.card.byte(machine.now) * 2 // 3)


FAULT = Fault(
    "counter-back",
    "The card's reader jumps back by a third of what it has read.",
    strike,
)
