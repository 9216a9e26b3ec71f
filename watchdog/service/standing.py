"""What `status` answers: each machine's state, the alarms that stand, and whether the watch itself is well."""

from typing import Any

from watchdog import __version__
from watchdog.core.alarms import book as alarms
from watchdog.core.alarms.table import TABLE
from watchdog.core.learning import usual
from watchdog.core.moment import Moment
from watchdog.core.outlook import Outlook
from watchdog.core.snapshot import Heater, Job, Snapshot
from watchdog.core.step import World
from watchdog.core.traffic import stamp_text


def machine(name: str, seen: Snapshot, world: World, at: Moment) -> dict[str, Any]:
    """One machine as JSON."""
    return {
        "machine": name,
        "link": seen.link.value,
        "execution": seen.execution.value,
        "execution_for_s": round(at.elapsed - seen.execution_since),
        "hotend": seen.hotend.value,
        "nozzle": _heater(seen.nozzle),
        "bed": _heater(seen.bed),
        "heard_ago_s": None if seen.heard is None else round(at.elapsed - seen.heard, 1),
        "sighted_for_s": round(at.elapsed - seen.sighted_since),
        "job": None
        if seen.job is None
        else _job(seen.job, at) | _ahead(seen.job, world.outlook) | {"may_outlast": seen.may_outlast},
        "conditions": dict(world.conditions),
        "alarms": standing(name, world, at),
        "usual": [habit._asdict() for habit in usual(world.habits)],
        "lines": world.counts.lines,
        "unparsed": world.counts.unparsed,
        "damaged": world.counts.damaged,
    }


def sensors(seen: Snapshot, world: World, at: Moment) -> list[dict[str, Any]]:
    """The sensors beside one machine. The last word of one that is stale is no value; how long ago it was is told."""
    heard = {reading.sensor: reading.at for reading in world.readings}
    return [
        {
            "sensor": one.name,
            "measures": one.kind.value,
            "value": one.value,
            "unit": one.unit,
            "heard_ago_s": round(at.elapsed - heard[one.name], 1) if one.name in heard else None,
            "stale": one.stale,
            "low": one.low,
            "high": one.high,
        }
        for one in seen.sensors
    ]


def standing(name: str, world: World, at: Moment) -> list[dict[str, Any]]:
    """The alarms of `world` that stand or are shelved, most urgent first."""
    rows = []
    for alarm, state in alarms.standing(world.book):
        row = {
            "id": f"{name}/{alarm}",
            "alarm": alarm,
            "phase": state.phase.value,
            "priority": (state.priority or TABLE[alarm].priority).value,
            "what": TABLE[alarm].what,
            "do": TABLE[alarm].action,
            "raised": None if state.raised is None else stamp_text(state.raised.stamp),
            "for_s": None if state.raised is None else round(at.elapsed - state.raised.elapsed),
            "acknowledged_by": None if state.acknowledged is None else state.acknowledged.by,
            "shelved_for_s": None if state.shelf is None else round(state.shelf.until - at.elapsed),
            "shelved_by": None if state.shelf is None else state.shelf.by,
            "shelved_why": None if state.shelf is None else state.shelf.reason,
            "suppressed_by": state.suppressed_by,
            "evidence": dict(state.evidence),
        }
        rows.append(row)
    order = {"urgent": 0, "high": 1, "low": 2}
    return sorted(rows, key=lambda row: (order[row["priority"]], row["alarm"]))


def _heater(heater: Heater) -> dict[str, Any]:
    return {"now": heater.now, "target": heater.target, "power": heater.power}


def _job(job: Job, at: Moment) -> dict[str, Any]:
    end = job.ended if job.ended is not None else at.elapsed
    return {
        "number": job.number,
        "origin": job.origin.value,
        "started": stamp_text(job.started_stamp),
        "elapsed_s": round(end - job.started),
        "held_s": round(job.held + (at.elapsed - job.held_since if job.held_since is not None else 0)),
        "size": job.size,
        "progress": job.progress,
        "percent": job.percent,
        "expected_s": None if job.expected is None else round(job.expected),
        "expected_by": job.expected_by,
        "ended": job.ending,
    }


def _ahead(job: Job, outlook: Outlook | None) -> dict[str, Any]:
    """What is expected of a running job."""
    ahead = None if outlook is None or outlook.job != job.number or job.ended is not None else outlook.forecast
    if ahead is None:
        return {"left_s": None, "finish": None, "finish_at_the_latest": None, "recognised_by": None, "past_jobs": None}
    return {
        "left_s": round(ahead.left.middle),
        "finish": stamp_text(ahead.finish.middle),
        "finish_at_the_latest": stamp_text(ahead.finish.high),
        "recognised_by": outlook.by if outlook is not None else None,
        "past_jobs": ahead.ratio.jobs,
    }


def whole(started: Moment, at: Moment, machines: list[dict[str, Any]], watch: dict[str, Any]) -> dict[str, Any]:
    """The answer to `status`."""
    return {
        "version": __version__,
        "at": stamp_text(at.stamp),
        "running_for_s": round(at.elapsed - started.elapsed),
        "machines": machines,
        "watch": watch,
    }
