"""What the expectation asks of a plan: planned seconds by byte, and where the job waits for heat."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol


class PlannedHold(Protocol):
    """A place where the job stops moving on purpose."""

    @property
    def kind(self) -> str:
        """'heat' where it waits for a temperature."""

    @property
    def byte(self) -> int:
        """Where the counter stands meanwhile."""

    @property
    def seconds(self) -> float:
        """Planned s."""

    @property
    def at(self) -> float:
        """Planned s at which it begins."""


class Planned(Protocol):
    """The plan of one file for one machine; `core.plan.Plan` is one."""

    @property
    def seconds(self) -> float:
        """Planned s of the whole file, waits for heat included."""

    @property
    def holds(self) -> Sequence[PlannedHold]:
        """In the order of the file."""

    def seconds_at(self, byte: float, /) -> float:
        """Planned s when a reader gets to `byte`, waits for heat included. Never falls."""

    def stretch_at(self, byte: int, /) -> float:
        """Planned s that the byte counter may stand still at or near `byte`; infinite where a person is waited for."""


@dataclass(frozen=True, slots=True)
class Course:
    """A plan with its waits for heat told apart from its work. Made once a job: a plan may hold thousands of holds."""

    plan: Planned
    waits: tuple[PlannedHold, ...]
    heat: float
    """planned s of waiting for heat in the whole file"""
    work: float
    """planned s of the rest"""

    def heat_after(self, byte: int) -> float:
        """Planned s of waiting for heat behind `byte`."""
        return sum(wait.seconds for wait in self.waits if wait.byte > byte)

    def work_at(self, byte: int) -> float:
        """Planned s without waits for heat when the counter shows `byte`."""
        seconds = self.plan.seconds_at(byte)
        over = (min(wait.seconds, max(0.0, seconds - wait.at)) for wait in self.waits if wait.byte <= byte)
        return min(self.work, max(0.0, seconds - sum(over)))


def course(plan: Planned) -> Course:
    """Work and heat of `plan`."""
    waits = tuple(hold for hold in plan.holds if hold.kind == "heat")
    heat = sum(wait.seconds for wait in waits)
    return Course(plan, waits, heat, max(0.0, plan.seconds - heat))
