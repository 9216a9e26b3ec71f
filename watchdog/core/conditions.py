"""The condition of each subject of a machine: normal, warning, fault or unavailable (after MTConnect's condition levels).

A subject is what a person would go and look at. It is as bad as its worst alarm; it is `unavailable`, never `normal`, while
no detector of it can tell, or a sensor of it is stale.
"""

from collections.abc import Mapping, Sequence
from typing import Final

from watchdog.core.effects import Priority
from watchdog.core.finding import Finding
from watchdog.core.snapshot import Sensed, SensorKind

NORMAL: Final = "normal"
WARNING: Final = "warning"
FAULT: Final = "fault"
UNAVAILABLE: Final = "unavailable"

SUBJECTS: Final[Mapping[str, tuple[str, ...]]] = {
    "heat": ("hot-idle", "heat-runaway", "heating-stalled", "heat-not-holding", "temperature-implausible"),
    "job": ("job-not-started", "job-stalled", "job-late", "waiting-for-person"),
    "feed": ("extruding-in-place", "filament-out", "feed-slipping", "flow-lost", "spool-short"),
    "card": ("card-fault",),
    "controller": ("controller-restarted", "controller-halted"),
    "link": ("silent", "silent-hot", "link-lost", "link-errors"),
    "host": ("host-suspended",),
    "supervision": ("unsupervised-hot", "outlasts-supervision"),
    "surroundings": ("sensor-limit",),
}


_OF_FEED: Final = frozenset({SensorKind.FILAMENT_MOTION, SensorKind.FILAMENT_PRESENT})


def conditions(
    findings: Mapping[str, Finding], priorities: Mapping[str, Priority], sensors: Sequence[Sensed] = ()
) -> tuple[tuple[str, str], ...]:
    """Each subject with its level, from the detectors' present answers. Subjects without a detector here are left out."""
    quiet = {"feed" if one.kind in _OF_FEED else "surroundings" for one in sensors if one.stale}
    return tuple(
        (
            subject,
            _level([(findings[name], priorities.get(name)) for name in names if name in findings], subject in quiet),
        )
        for subject, names in SUBJECTS.items()
        if any(name in findings for name in names)
    )


def _level(answers: list[tuple[Finding, Priority | None]], stale: bool) -> str:
    present = [(finding, priority) for finding, priority in answers if finding.present]
    if present:
        worst = any(finding.urgent or priority is not Priority.LOW for finding, priority in present)
        return FAULT if worst else WARNING
    if stale or all(finding.present is None for finding, _ in answers):
        return UNAVAILABLE
    return NORMAL
