"""One byte in fifteen hundred on the wire does not arrive, either way: one line in fifty or so is damaged.

A receiver that is overrun does this, or a converter that is too slow.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.byte_loss = 1 / 1500


def heal(machine: SimulatedMachine) -> None:
    machine.byte_loss = 0.0


FAULT = Fault(
    "bytes-lost",
    "One byte in fifteen hundred on the wire does not arrive: a streamed job's lines are sent again and again.",
    strike,
    heal,
)
