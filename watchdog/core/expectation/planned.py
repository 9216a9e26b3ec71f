"""What the expectation asks of a plan: planned seconds by byte, and where the job waits for heat."""

from collections.abc import Sequence
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


def heat(plan: Planned) -> float:
    """Planned s of waiting for heat in the whole file."""
    return sum(hold.seconds for hold in plan.holds if hold.kind == "heat")


def heat_after(plan: Planned, byte: int) -> float:
    """Planned s of waiting for heat behind `byte`."""
    return sum(hold.seconds for hold in plan.holds if hold.kind == "heat" and hold.byte > byte)


def work(plan: Planned) -> float:
    """Planned s of the whole file without waits for heat."""
    return max(0.0, plan.seconds - heat(plan))


def work_at(plan: Planned, byte: int) -> float:
    """Planned s without waits for heat when the counter shows `byte`."""
    seconds = plan.seconds_at(byte)
    waits = (hold for hold in plan.holds if hold.kind == "heat" and hold.byte <= byte)
    return max(0.0, seconds - sum(min(hold.seconds, max(0.0, seconds - hold.at)) for hold in waits))
