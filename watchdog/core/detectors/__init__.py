"""The conditions, one a file, each named like its alarm.

A detector is a module with `NAME`, a frozen `Limits`, a frozen `Memory` (its start value is `Memory()`) and
`observe(limits, memory, seen) -> (memory, finding)`. It never sees another detector.
"""

from typing import Any, Final, Protocol

from watchdog.core.detectors import (
    card_fault,
    controller_halted,
    controller_restarted,
    extruding_in_place,
    feed_slipping,
    filament_out,
    flow_lost,
    heat_not_holding,
    heat_runaway,
    heating_stalled,
    host_suspended,
    hot_idle,
    job_late,
    job_not_started,
    job_stalled,
    link_errors,
    link_lost,
    outlasts_supervision,
    sensor_limit,
    silent,
    silent_hot,
    spool_short,
    temperature_implausible,
    unsupervised_hot,
    waiting_for_person,
    watch_impaired,
)
from watchdog.core.finding import Finding
from watchdog.core.snapshot import Snapshot


class Detector(Protocol):
    """What every module of this room offers."""

    @property
    def NAME(self) -> str:  # noqa: N802 - a module's constant
        """The alarm's name."""

    @property
    def Limits(self) -> type[Any]:  # noqa: N802 - a module's class
        """Frozen; every field is declared by `limit()`."""

    @property
    def Memory(self) -> type[Any]:  # noqa: N802 - a module's class
        """Frozen, of plain values only, so that it can be stored."""

    def observe(self, limits: Any, memory: Any, seen: Snapshot) -> tuple[Any, Finding]:
        """Judge one snapshot; same arguments, same answer."""


MACHINE: Final[tuple[Detector, ...]] = (
    hot_idle,
    job_not_started,
    job_stalled,
    job_late,
    silent_hot,
    link_lost,
    silent,
    controller_restarted,
    controller_halted,
    heat_runaway,
    heating_stalled,
    heat_not_holding,
    temperature_implausible,
    extruding_in_place,
    waiting_for_person,
    filament_out,
    card_fault,
    link_errors,
    host_suspended,
    feed_slipping,
    flow_lost,
    spool_short,
    unsupervised_hot,
    outlasts_supervision,
    sensor_limit,
)
"""Those that watch a machine, in the order of the alarm table."""

WATCH: Final[tuple[Detector, ...]] = (watch_impaired,)
"""Those that watch the watch itself."""

ALL: Final[tuple[Detector, ...]] = (*MACHINE, *WATCH)

__all__ = ["ALL", "MACHINE", "WATCH", "Detector"]
