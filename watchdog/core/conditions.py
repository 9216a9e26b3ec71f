"""The condition of each subject of a machine: normal, warning, fault or unavailable (after MTConnect's condition levels).

A subject is what a person would go and look at. It is as bad as its worst alarm; it is `unavailable`, never `normal`, while
no detector of it can tell.
"""

from collections.abc import Mapping
from typing import Final

from watchdog.core.effects import Priority
from watchdog.core.finding import Finding

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


def conditions(findings: Mapping[str, Finding], priorities: Mapping[str, Priority]) -> tuple[tuple[str, str], ...]:
    """Each subject with its level, from the detectors' present answers. Subjects without a detector here are left out."""
    return tuple(
        (subject, _level([(findings[name], priorities.get(name)) for name in names if name in findings]))
        for subject, names in SUBJECTS.items()
        if any(name in findings for name in names)
    )


def _level(answers: list[tuple[Finding, Priority | None]]) -> str:
    present = [(finding, priority) for finding, priority in answers if finding.present]
    if present:
        worst = any(finding.urgent or priority is not Priority.LOW for finding, priority in present)
        return FAULT if worst else WARNING
    if all(finding.present is None for finding, _ in answers):
        return UNAVAILABLE
    return NORMAL
