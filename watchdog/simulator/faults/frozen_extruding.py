"""The controller hangs while the extruder turns: plastic is fed on one spot, and nothing is answered.

2 mm of filament a second. On the wire the same as any other hang: silence.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.controller.frozen = True
    machine.filament.by_itself = 2.0


def heal(machine: SimulatedMachine) -> None:
    if machine.controller.frozen:
        machine.controller.thaw()
    machine.filament.by_itself = 0.0


FAULT = Fault(
    "frozen-extruding",
    "The controller hangs while the extruder turns: plastic is fed on one spot, and nothing is answered.",
    strike,
    heal,
)
