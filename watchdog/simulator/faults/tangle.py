"""The spool is tangled: it grips and lets go, again and again.

35 s without filament, then 45 s with it; nothing on the wire but the heater's power.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.filament.gripped_since = machine.now


def heal(machine: SimulatedMachine) -> None:
    machine.filament.gripped_since = None


FAULT = Fault(
    "tangle",
    "The spool is tangled: it grips and lets go, again and again.",
    strike,
    heal,
)
