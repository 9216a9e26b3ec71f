"""The rest of the job's file has lost its places: filament is fed, and the nozzle stands.

X, Y and Z are struck out of a streamed job's lines, as a bad conversion of a file does. A card job is left alone.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from watchdog.simulator.faults.kinds import Fault

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine

_PLACE = re.compile(r"\s[XYZ]-?[\d.]+")


def strike(machine: SimulatedMachine) -> None:
    if machine.computer is not None:
        machine.computer.left = [_PLACE.sub("", line) for line in machine.computer.left]


FAULT = Fault(
    "places-lost",
    "The rest of a streamed job has lost its X, Y and Z: filament is fed, and the nozzle stands.",
    strike,
)
