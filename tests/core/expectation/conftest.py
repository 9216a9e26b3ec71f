"""A plan that is a list of stretches, and a running job."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import pytest

from watchdog.core.snapshot import Job, Origin


class Wait(NamedTuple):
    """A place where the planned job stops moving."""

    kind: str
    byte: int
    seconds: float
    at: float


@dataclass(frozen=True)
class Stretches:
    """10,000 bytes of even work, with waits for heat before it where asked for."""

    seconds: float
    holds: Sequence[Wait]
    still: float = 5.0
    size: int = 10_000

    def seconds_at(self, byte: float) -> float:
        """Even in bytes behind the waits, which all stand at byte 100."""
        waits = sum(hold.seconds for hold in self.holds if hold.byte <= byte)
        work = self.seconds - sum(hold.seconds for hold in self.holds)
        return waits + work * min(max(byte, 0), self.size) / self.size

    def stretch_at(self, byte: int) -> float:
        return self.still


@pytest.fixture(scope="session")
def planned() -> Callable[..., Stretches]:
    """A plan of so many s of work, and so many s of waiting for heat before it."""

    def make(work: float = 7200.0, heat: float = 0.0, still: float = 5.0) -> Stretches:
        holds = (Wait("heat", 100, heat, work / 100),) if heat else ()
        return Stretches(work + heat, holds, still)

    return make


@pytest.fixture(scope="session")
def running() -> Callable[..., Job]:
    """A card job that started at 1000 s."""

    def make(**changes: Any) -> Job:
        told: dict[str, Any] = {
            "number": 1,
            "origin": Origin.CARD,
            "file": "CUP~1.GCO",
            "size": 10_000,
            "started": 1000.0,
            "started_stamp": 1_790_000_000.0,
        }
        return Job(**(told | changes))

    return make
