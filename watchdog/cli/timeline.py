"""One incident as curves and marks, for the terminal and for the picture."""

from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from watchdog.cli.about import FORETOLD
from watchdog.cli.charts import Mark, Point
from watchdog.core.effects import Transition
from watchdog.core.plan import Plan, from_bytes
from watchdog.record.rows import Incident, JobRow

LETTERS = "R raised  A acknowledged  E ended  M message"
LEGEND = f"{LETTERS}  * several"
_LETTERS = {Transition.RAISED: "R", Transition.ACKNOWLEDGED: "A", Transition.CLEARED: "E"}
_STEPS = 400  # points of a planned curve


class Curves(NamedTuple):
    """What is drawn. Temperatures in °C, progress in % of the file's bytes."""

    since: float
    until: float
    nozzle: Sequence[Point]
    nozzle_target: Sequence[Point]
    bed: Sequence[Point]
    bed_target: Sequence[Point]
    progress: Sequence[Point]
    planned: Sequence[Point]
    """where it should have been; holds are not known to a plan. Empty without one"""
    planned_by: str
    marks: Sequence[Mark]


def curves(incident: Incident, job: JobRow | None, plan: Plan | None) -> Curves:
    """What is known of `incident`; `job` is the one that ran then, `plan` that of its file."""
    readings = incident.readings
    marks = [
        Mark(step.at, _LETTERS[step.transition])
        for alarm in incident.alarms
        for step in alarm.steps
        if step.transition in _LETTERS
    ]
    marks += [Mark(message.created, "M") for message in incident.messages]
    stamps = [reading.at for reading in readings] + [mark.at for mark in marks]
    since, until = min(stamps, default=incident.row.opened), max(stamps, default=incident.row.opened)
    until = max(until, since + 1)
    size = job.size if job is not None and job.size and job.origin == "card" else None  # others count lines or %
    progress: list[Point] = []
    if size is not None:
        progress = [
            (reading.at, None if reading.progress is None else 100 * reading.progress / size) for reading in readings
        ]
    planned, planned_by = _planned(job, plan, since, until)
    return Curves(
        since,
        until,
        [(one.at, one.nozzle) for one in readings],
        [(one.at, one.nozzle_target) for one in readings],
        [(one.at, one.bed) for one in readings],
        [(one.at, one.bed_target) for one in readings],
        progress,
        planned,
        planned_by,
        sorted(marks, key=lambda mark: (mark.at, "RMAE".index(mark.letter))),
    )


def _planned(job: JobRow | None, plan: Plan | None, since: float, until: float) -> tuple[list[Point], str]:
    if job is None:
        return [], ""
    end = min(until, job.ended if job.ended is not None else until)
    start = max(since, job.started)
    if end <= start:
        return [], ""
    stamps = [start + (end - start) * step / _STEPS for step in range(_STEPS + 1)]
    if plan is not None and plan.size:
        return [(at, 100 * plan.byte_at(at - job.started) / plan.size) for at in stamps], "by the plan of its file"
    if job.planned:
        share = [(at, min(100.0, 100 * (at - job.started) / job.planned)) for at in stamps]
        return [*share], f"evenly over the time foretold by {FORETOLD.get(job.planned_by or '', 'somebody')}"
    return [], ""


def kept_plan(plans: Path, job: JobRow | None) -> Plan | None:
    """The plan of the job's file, where the watch still keeps it."""
    if job is None or not job.digest:
        return None
    for file in sorted(plans.glob(f"{job.digest[:32]}-*.plan")):
        try:
            return from_bytes(file.read_bytes())
        except (OSError, ValueError):
            continue
    return None
