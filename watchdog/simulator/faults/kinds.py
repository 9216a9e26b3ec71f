"""The shape of a fault."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


@dataclass(frozen=True, slots=True)
class Fault:
    """Something that goes wrong underneath: in the physics, the card, the controller, or in what a person forgets."""

    name: str
    summary: str
    """one line for a list"""
    strike: Callable[[SimulatedMachine], None]
    heal: Callable[[SimulatedMachine], None] | None = None
    """undoes the cause; None where only time, a person or a reset does"""
    in_job: bool = True
    """it means most while a job runs; False: while none does"""
