"""The job's file does not turn the heat off at its end.

The orders that would are replaced in the file on the card; every byte keeps its place.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.card.without_cooling()


FAULT = Fault(
    "hot-after-job",
    "The job's file does not turn the heat off at its end.",
    strike,
)
