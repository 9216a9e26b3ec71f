"""A machine as the detectors see it: a healthy card job that builds at 205 °C, unless a test changes it."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from watchdog.core.detectors import Detector
from watchdog.core.finding import Finding
from watchdog.core.snapshot import Execution, Heater, Hotend, Job, Link, Origin, Snapshot, Source

_NO_JOB = (Execution.READY, Execution.COMPLETE, Execution.STOPPED, Execution.FAULTED)


@pytest.fixture(scope="session")
def job() -> Job:
    """The job that `seen` shows."""
    return Job(1, Origin.CARD, "PINTLE~1.GCO", 812345, 0.0, 1.77e9, progress=65536, moved_at=0.0, building_since=0.0)


@pytest.fixture(scope="session")
def seen(job: Job) -> Callable[..., Snapshot]:
    """Make a snapshot: `seen(at=600, nozzle=(205.1, 205.0), execution=Execution.READY)`.

    A heater is given as `Heater` or as (now, target), then read at that moment, 2 s after a reading 0.1 °C lower. The
    machine was heard, and the card counter moved, at that moment too, unless told otherwise.
    """

    def make(at: float = 1000.0, nozzle: Any = (205.0, 205.0), bed: Any = (60.0, 60.0), **changes: Any) -> Snapshot:
        execution = changes.get("execution", Execution.BUILDING)
        active: bool | None = execution not in _NO_JOB
        if execution is Execution.UNAVAILABLE:
            active = None
        plain = Snapshot(
            at=at,
            stamp=1.77e9 + at,
            source=Source.SERIAL,
            link=Link.AVAILABLE,
            link_since=0.0,
            execution=execution,
            execution_since=0.0,
            hotend=Hotend.HOT,
            sighted_since=0.0,
            melts_at=150.0,
            nozzle=_heater(nozzle, at),
            bed=_heater(bed, at),
            job=replace(job, moved_at=at),
            active=active,
            heating_up=False,
            heard=at,
            owed_since=None,
            unanswered=0,
            rhythm=2.1,
            blocking_since=None,
            waits_for_person=False,
            waits_since=None,
            wait_planned=False,
            flow_at=None,
            flowed=0.0,
            fed_in_place=0.0,
            restarted_at=None,
            reset_cause=None,
            restart_broke=False,
            faults=(),
            resends=0,
            lines_sent=0,
            byte_fell_at=None,
            card_gone_at=None,
            heat_when_lost=True,
            chosen_at=None,
        )
        return replace(plain, **changes)

    return make


def _heater(told: Any, at: float) -> Heater:
    if isinstance(told, Heater):
        return told
    now, target = told
    before = None if now is None else now - 0.1
    return Heater(now, target, 71, 127, at, before, at - 2, target_since=0.0)


class Watched:
    """A detector with its memory, looking at one snapshot after the other."""

    def __init__(self, detector: Detector, **limits: float) -> None:
        self.detector = detector
        self.limits = detector.Limits(**limits)
        self.memory = detector.Memory()

    def see(self, snapshot: Snapshot) -> Finding:
        """Its answer to the next snapshot."""
        self.memory, finding = self.detector.observe(self.limits, self.memory, snapshot)
        return finding

    def answers(self, *snapshots: Snapshot) -> list[bool | None]:
        """Its answers to several."""
        return [self.see(snapshot).present for snapshot in snapshots]


@pytest.fixture(scope="session")
def watched() -> Callable[..., Watched]:
    """Make a detector with a memory: `watched(hot_idle, floor=60)`."""
    return Watched
