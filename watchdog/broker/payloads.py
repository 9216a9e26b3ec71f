"""What is said, made from the core's own values. This is the contract; `v` counts its versions.

A reader must ignore names that it does not know. A change that breaks such a reader gets the next `v`; names are only added
within one. Times are RFC 3339 in UTC, durations s, temperatures °C. `null` means: cannot be told, never 0. No file name and no
free text of a machine or a person is in them, since these can hold pupils' names.

state   retained, at most once a second on change and every 60 s: one whose `at` is older than 3 min says nothing of now
    {"v": 1, "at": "2026-03-02T09:31:07.412Z", "machine": "doorway-1",
     "link": "available", "execution": "building", "hotend": "hot", "heard": "2026-03-02T09:31:06.900Z",
     "nozzle": {"now": 205.1, "target": 205.0}, "bed": {"now": 60.0, "target": 60.0},
     "job": {"number": 12, "origin": "card", "started": "…", "elapsed_s": 1320, "progress": 81234, "size": 812345,
             "percent": null, "expected_s": 2280, "ended": null},
     "conditions": {"heat": "normal", "job": "normal", "feed": "unavailable"},
     "sensors": {"doorway-1-air": {"kind": "room-temperature", "value": 21.5, "stale": false}}}

alarm   retained while it is raised, or has returned and nobody acknowledged it; then an empty message
    {"v": 1, "at": "…", "machine": "doorway-1", "alarm": "hot-idle", "occurrence": 3, "phase": "unacknowledged",
     "priority": "high", "raised": "…", "what": "nozzle hot and idle", "do": "Cool the nozzle or start the job",
     "acknowledged_by": null, "shelved": false, "suppressed_by": null, "evidence": {"nozzle": 205.0}}

event   not retained, at least once: machine, alarm, occurrence and transition together tell a repetition
    {"v": 1, "at": "…", "machine": "doorway-1", "kind": "alarm", "alarm": "hot-idle", "occurrence": 3,
     "transition": "raised", "priority": "high", "by": null, "how": null, "evidence": {…}}
    {"v": 1, "at": "…", "machine": "doorway-1", "kind": "state", "axis": "execution", "from": "ready", "to": "preparing"}
    {"v": 1, "at": "…", "machine": "doorway-1", "kind": "job", "event": "started", "job": 12, "origin": "card", "elapsed_s": 0}

acknowledge   heard: who takes it on, by role, as plain text or as {"by": "workshop lead"}
"""

import json
from collections.abc import Mapping
from math import isfinite
from typing import Any

from watchdog.core.alarms.alarm import Alarm
from watchdog.core.alarms.standing import Phase, Standing, announced
from watchdog.core.effects import AlarmChanged, Effect, JobChanged, StateChanged
from watchdog.core.finding import Evidence
from watchdog.core.moment import Moment
from watchdog.core.snapshot import Heater, Job, Snapshot
from watchdog.core.traffic import stamp_text

VERSION = 1
ONLINE, OFFLINE, EMPTY = b"online", b"offline", b""
LONGEST_BY = 1024
"""bytes of an acknowledgement that are read at all: a role has some 20"""
_FREE_TEXT = frozenset({"file", "text"})  # evidence that quotes the machine
_PASSING = frozenset({"at", "heard"})  # differ in every state, and alone are no news


def state(machine: str, seen: Snapshot, conditions: Mapping[str, str], at: Moment) -> dict[str, Any]:
    """The machine as it is known at `at`."""
    return {
        **_head(machine, at),
        "link": seen.link.value,
        "execution": seen.execution.value,
        "hotend": seen.hotend.value,
        "heard": None if seen.heard is None else stamp_text(at.stamp - (at.elapsed - seen.heard)),
        "nozzle": _heater(seen.nozzle),
        "bed": _heater(seen.bed),
        "job": None if seen.job is None else _job(seen.job, at),
        "conditions": dict(conditions),
        "sensors": {one.name: {"kind": one.kind.value, "value": one.value, "stale": one.stale} for one in seen.sensors},
    }


def same(before: Mapping[str, Any] | None, after: Mapping[str, Any]) -> bool:
    """Two states that differ in nothing but their time."""
    if before is None:
        return False
    return _lasting(before) == _lasting(after)


def alarm(machine: str, row: Alarm, standing: Standing, at: Moment) -> dict[str, Any] | None:
    """The alarm as it stands; None when it does not, and its topic is to be emptied."""
    if not (announced(standing) or standing.phase is Phase.RETURNED):
        return None
    return {
        **_head(machine, at),
        "alarm": row.name,
        "occurrence": standing.occurrence,
        "phase": standing.phase.value,
        "priority": (standing.priority or row.priority).value,
        "raised": None if standing.raised is None else stamp_text(standing.raised.stamp),
        "what": row.what,
        "do": row.action,
        "acknowledged_by": None if standing.acknowledged is None else standing.acknowledged.by,
        "shelved": standing.shelf is not None,
        "suppressed_by": standing.suppressed_by,
        "evidence": _evidence(standing.evidence),
    }


def event(machine: str, effect: Effect) -> dict[str, Any] | None:
    """What happened; None for what is not told here."""
    match effect:
        case AlarmChanged():
            return {
                **_head(machine, effect.at),
                "kind": "alarm",
                "alarm": effect.alarm,
                "occurrence": effect.occurrence,
                "transition": effect.transition.value,
                "priority": effect.priority.value,
                "by": effect.by,
                "how": effect.how,
                "evidence": _evidence(effect.evidence),
            }
        case StateChanged():
            axis = {"axis": effect.axis, "from": effect.before, "to": effect.after}
            return {**_head(machine, effect.at), "kind": "state", **axis}
        case JobChanged():
            job = {
                "event": effect.event,
                "job": effect.number,
                "origin": effect.origin,
                "elapsed_s": round(effect.elapsed),
            }
            return {**_head(machine, effect.at), "kind": "job", **job}
    return None


def encode(told: Mapping[str, Any] | None) -> bytes:
    """`told` as it goes out; nothing as an empty message."""
    if told is None:
        return EMPTY
    return json.dumps(told, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()


def acknowledged_by(payload: bytes) -> str | None:
    """Who takes an alarm on, at most 80 characters; None where the message does not say so. Never raises."""
    if len(payload) > LONGEST_BY:
        return None
    try:
        text = payload.decode("utf-8").strip()
        said = json.loads(text) if text.startswith(("{", "[", '"')) else text
    except (ValueError, RecursionError):
        return None
    by = said.get("by") if isinstance(said, dict) else said
    if not isinstance(by, str) or not by.strip() or not by.isprintable():
        return None
    return by.strip()[:80]


def _head(machine: str, at: Moment) -> dict[str, Any]:
    return {"v": VERSION, "at": stamp_text(at.stamp), "machine": machine}


def _lasting(told: Mapping[str, Any]) -> dict[str, Any]:
    kept = {name: value for name, value in told.items() if name not in _PASSING}
    if isinstance(kept.get("job"), dict):
        kept["job"] = {name: value for name, value in kept["job"].items() if name != "elapsed_s"}
    return kept


def _heater(heater: Heater) -> dict[str, float | None]:
    return {"now": _finite(heater.now), "target": _finite(heater.target)}


def _job(job: Job, at: Moment) -> dict[str, Any]:
    end = job.ended if job.ended is not None else at.elapsed
    return {
        "number": job.number,
        "origin": job.origin.value,
        "started": stamp_text(job.started_stamp),
        "elapsed_s": round(end - job.started),
        "progress": job.progress,
        "size": job.size,
        "percent": _finite(job.percent),
        "expected_s": None if job.expected is None else round(job.expected),
        "ended": job.ending,
    }


def _evidence(seen: Evidence) -> dict[str, Any]:
    return {
        name: _finite(fact) if isinstance(fact, float) else fact
        for name, fact in seen.items()
        if name not in _FREE_TEXT
    }


def _finite(number: float | None) -> float | None:
    """JSON knows no infinity."""
    return number if number is not None and isfinite(number) else None
