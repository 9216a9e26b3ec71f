"""A shutdown of the watching computer that somebody has planned reaches the machines that may depend on it."""

import asyncio
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from watchdog.clock import Clock
from watchdog.core.events import HostEnds
from watchdog.host import vitals
from watchdog.service import rooms
from watchdog.service.health import Health
from watchdog.settings.fill import ITSELF
from watchdog.settings.model import Settings
from watchdog.settings.places import Kept


class Worker:
    """Keeps what is posted to it."""

    def __init__(self) -> None:
        self.posted: list[Any] = []
        self.came = asyncio.Event()

    def post(self, event: Any) -> None:
        self.posted.append(event)
        self.came.set()


async def test_a_planned_restart_is_handed_to_every_machine_once_and_taken_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The service manager writes it into a file; that file is read here, from another root."""
    plan = tmp_path / "run/systemd/shutdown/scheduled"
    plan.parent.mkdir(parents=True)
    plan.write_text("USEC=1772446000500000\nWARN_WALL=1\nMODE=reboot\n")
    monkeypatch.setattr(vitals, "look", partial(vitals.look, root=tmp_path))
    monkeypatch.setattr(rooms, "COMPUTER_EVERY", 0.01)
    workers: Any = {"doorway-1": Worker(), "loft-1": Worker(), ITSELF: Worker()}
    keeping: Any = None
    shared = rooms.Shared(Settings(), Kept(tmp_path, tmp_path / "s"), Clock(), workers, keeping, Health(lambda _: None))
    looking = dict(rooms.Rooms(shared).tasks(keeping))
    async with asyncio.TaskGroup() as group:
        task = group.create_task(looking.pop("computer"))
        for other in looking.values():
            other.close()

        async with asyncio.timeout(20):
            await workers["loft-1"].came.wait()
            await asyncio.sleep(0.1)  # several more looks, which find the same
            workers["loft-1"].came.clear()
            plan.unlink()
            await workers["loft-1"].came.wait()
        task.cancel()
    for name in ("doorway-1", "loft-1"):
        told = [(each.ends_at, each.how) for each in workers[name].posted if isinstance(each, HostEnds)]
        assert told == [(1772446000.5, "reboot"), (None, "")]
    assert workers[ITSELF].posted == []
