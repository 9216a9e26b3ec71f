"""What was drawn and what really happened, which no line of the record tells: the ground truth of a term."""

import json
from pathlib import Path
from typing import Any, NamedTuple


class TrueJob(NamedTuple):
    """One job as the machine executed it."""

    machine: str
    number: int
    """counted by the people, from 1"""
    file: str
    started: float
    """stamp"""
    ended: float
    ending: str
    """'completed', or 'abandoned' where it was stopped or lost"""
    filament: float
    """mm that the extruder was asked for, forward less back, as far as the job got"""
    incident: str | None
    failed: bool
    label: str | None
    """what somebody said of the part; None: nobody said anything"""


class TrueIncident(NamedTuple):
    """Something that went wrong."""

    name: str
    machine: str
    struck: float
    """stamp"""
    cured: float
    """stamp at which somebody had done something about it"""
    right: tuple[str, ...]
    """alarms of which one should have been raised; empty: nothing on the wire shows it"""
    follow: tuple[str, ...]
    seen_by: str
    """who noticed: the watch's alarm, or a person's own eyes"""


class Refused(NamedTuple):
    """A job that was not started, because it would have ended after closing."""

    machine: str
    file: str
    at: float
    """stamp at which it would have been started"""


class Truth(NamedTuple):
    """Of one machine, or of the term."""

    jobs: tuple[TrueJob, ...] = ()
    incidents: tuple[TrueIncident, ...] = ()
    refused: tuple[Refused, ...] = ()
    spools: int = 0
    sheets: int = 0


def together(seed: int, weeks: int, parts: tuple[Truth, ...]) -> dict[str, Any]:
    """The term's ground truth, as plain values."""
    return {
        "seed": seed,
        "weeks": weeks,
        "jobs": [job._asdict() for job in sorted((one for part in parts for one in part.jobs), key=_started)],
        "incidents": [one._asdict() for part in parts for one in sorted(part.incidents, key=_struck)],
        "refused": [one._asdict() for part in parts for one in part.refused],
        "spools": sum(part.spools for part in parts),
        "sheets": sum(part.sheets for part in parts),
    }


def write(place: Path, truth: dict[str, Any]) -> None:
    """As JSON, for people and scripts."""
    place.write_text(json.dumps(truth, indent=1) + "\n", encoding="utf-8")


def _started(job: TrueJob) -> float:
    return job.started


def _struck(incident: TrueIncident) -> float:
    return incident.struck
