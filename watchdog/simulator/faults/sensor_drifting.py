"""The nozzle's sensor loses its hold slowly: it feels a little less every minute.

2 % a minute. The controller makes up for it all the time: the reading never leaves the target, and the block grows too hot.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


def strike(machine: SimulatedMachine) -> None:
    machine.nozzle.contact_lost = 0.02 / 60


def heal(machine: SimulatedMachine) -> None:
    machine.nozzle.contact_lost = 0.0
    machine.nozzle.contact = 1.0


FAULT = Fault(
    "sensor-drifting",
    "The nozzle's sensor loses its hold slowly: it feels a little less every minute.",
    strike,
    heal,
)
