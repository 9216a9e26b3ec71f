"""The record held against the ground truth: is every job there and right, was every incident told, and nothing twice?"""

from collections import Counter
from pathlib import Path
from typing import Any, NamedTuple

from tests.bench.term import house
from tests.bench.term.incidents import AFTER
from watchdog.core.effects import TellKind
from watchdog.core.machine import Limits
from watchdog.record.reader import Reader
from watchdog.record.rows import JobRow
from watchdog.record.term_rows import OccurrenceRow

SECONDS = 1.0
"""by which a completed job's duration may differ, beyond what nobody can know better: a card job is seen at the next question,
a stream has ended once nothing came for a while"""
_ASKED = 5.0
_PAUSE = Limits().stream_pause
_UNANSWERED = Limits().settled_after
"""the same, after a program that ended with lines unanswered"""
FILAMENT = 0.02
"""share by which its filament may; a job that was cut off is known to `CUT` mm besides"""
CUT = 60.0
"""mm that may lie in the machine's queue or have been read ahead when a job is cut off"""


class Judgement(NamedTuple):
    """What was found."""

    jobs: int
    matched: tuple[tuple[dict[str, Any], JobRow], ...]
    faults: tuple[str, ...]
    """sentences; empty when the record is right"""
    right: tuple[OccurrenceRow, ...]
    """alarms that belong to an incident"""
    wrong: tuple[OccurrenceRow, ...]
    """alarms that belong to none"""
    messages: int
    stopped: tuple[int, int]
    """streamed jobs that were cut off, and how many of those the register calls completed: the program that is stopped sends a
    file's usual last orders, and so the wire shows heat off and then nothing, as at an end"""


def judged(place: Path, truth: dict[str, Any]) -> Judgement:
    """Compare the record at `place` with `truth`."""
    with Reader.read(place) as record:
        rows = record.jobs(limit=None)
        alarms = record.occurrences()
        messages = record.messages()
    matched, faults = _jobs(truth["jobs"], rows)
    told, untold = _incidents(truth["incidents"], alarms)
    faults += untold
    demands = (one for one in messages if one.kind not in (TellKind.ALL_CLEAR, TellKind.NOTICE))
    said = Counter((one.machine, one.alarm, one.occurrence, one.kind, one.nth, one.person) for one in demands)
    faults += [f"told {times} times: {what}" for what, times in said.items() if times > 1]
    right = tuple(alarm for alarm in alarms if alarm.id in told)
    wrong = tuple(alarm for alarm in alarms if alarm.id not in told)
    stopped = [row.ending for job, row in matched if _stopped(job)]
    counted = len(stopped), stopped.count("completed")
    return Judgement(len(rows), tuple(matched), tuple(faults), right, wrong, len(messages), counted)


def _jobs(
    jobs: list[dict[str, Any]], rows: tuple[JobRow, ...]
) -> tuple[list[tuple[dict[str, Any], JobRow]], list[str]]:
    faults: list[str] = []
    matched: list[tuple[dict[str, Any], JobRow]] = []
    before: dict[str, str | None] = {}
    left = list(rows)
    for job in jobs:
        name = f"{job['machine']} job {job['number']} ({job['file']})"
        near = [row for row in left if row.machine == job["machine"] and abs(row.started - job["started"]) < 60.0]
        if len(near) != 1:
            faults.append(f"{name}: {len(near)} in the record")
            continue
        row = near[0]
        left.remove(row)
        matched.append((job, row))
        slack = _ASKED if row.origin == "card" else _PAUSE
        slack += _UNANSWERED if before.get(job["machine"]) == "laptop-restart" else 0.0
        before[job["machine"]] = job["incident"]
        faults += [f"{name}: {fault}" for fault in _differs(job, row, SECONDS + slack)]
    faults += [f"{row.machine} job {row.number} in the record was never started" for row in left]
    return matched, faults


def _stopped(job: dict[str, Any]) -> bool:
    return bool(job["machine"] == house.LOFT and job["ending"] != "completed")


def _differs(job: dict[str, Any], row: JobRow, seconds: float) -> list[str]:
    found = []
    if (row.ending == "completed") != (job["ending"] == "completed") and not _stopped(job):
        found.append(f"ended as {row.ending}, not {job['ending']}")
    took = job["ended"] - job["started"]
    if job["ending"] == "completed" and (row.seconds is None or abs(row.seconds - took) > seconds):
        found.append(f"took {row.seconds} s, not {took:.0f}")
    allowed = FILAMENT * job["filament"] + (0.0 if job["ending"] == "completed" else CUT)
    if row.filament_mm is None or abs(row.filament_mm - job["filament"]) > allowed:
        found.append(f"took {row.filament_mm} mm, not {job['filament']}")
    label = row.label.outcome.value if row.label.outcome is not None else None
    if label != job["label"]:
        found.append(f"labelled {label}, not {job['label']}")
    return found


def _incidents(incidents: list[dict[str, Any]], alarms: tuple[OccurrenceRow, ...]) -> tuple[set[int], list[str]]:
    """Alarms that belong to an incident, and incidents that lack theirs."""
    told: set[int] = set()
    untold = []
    for one in incidents:
        near = [
            alarm
            for alarm in alarms
            if alarm.machine == one["machine"] and one["struck"] <= alarm.raised <= one["cured"] + AFTER
        ]
        told |= {alarm.id for alarm in near if alarm.alarm in {*one["right"], *one["follow"]}}
        if one["right"] and not any(alarm.alarm in one["right"] and alarm.messages for alarm in near):
            untold.append(f"{one['machine']}: {one['name']} was told by none of {', '.join(one['right'])}")
    return told, untold
