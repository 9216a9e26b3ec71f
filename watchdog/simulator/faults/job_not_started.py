"""A file is chosen and warmed up for, but its start is ignored, as after a swap of the card.

A job that runs is left alone; the next one will not start.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    card = machine.card
    card.start_ignored = True
    if card.running:
        return
    if card.open is None and card.files:
        machine.panel.choose(next(iter(card.files)))
    machine.panel.preheat(machine.options.material, 60.0)
    machine.panel.start()


def heal(machine: SimulatedMachine) -> None:
    machine.card.start_ignored = False


FAULT = Fault(
    "job-not-started",
    "A file is chosen and warmed up for, but its start is ignored, as after a swap of the card.",
    strike,
    heal,
    in_job=False,
)
