"""One byte in fifteen hundred on the wire has a wrong bit, either way: one line in fifty or so is damaged.

A streamed job goes on, with requests to send lines again.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.bit_errors = 1 / 1500


def heal(machine: SimulatedMachine) -> None:
    machine.bit_errors = machine.options.bit_errors


FAULT = Fault(
    "cable-noisy",
    "One byte in fifteen hundred on the wire has a wrong bit: a streamed job's lines are sent again and again.",
    strike,
    heal,
)
