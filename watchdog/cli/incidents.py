"""`incidents` and `show`: the incident log, read."""

import argparse
import json
from collections.abc import Sequence
from datetime import datetime
from enum import Enum
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, Stop, complain, paint, reference, say, span, surroundings_of
from watchdog.cli.status import MARKS
from watchdog.core.alarms.table import TABLE
from watchdog.core.traffic import stamp_text
from watchdog.record.faults import RecordUnusable
from watchdog.record.reader import Reader
from watchdog.record.rows import AlarmRow, Incident, IncidentRow, Message, ReadingRow
from watchdog.settings.fill import zone_of
from watchdog.settings.places import of_caller

BLOCKS = "▁▂▃▄▅▆▇█"
WIDTH = 72  # characters of a small chart


def run(asked: argparse.Namespace) -> int:
    """Print the list, or one incident."""
    try:
        settings = surroundings_of(asked)
        zone = zone_of(settings)
        with Reader.read(of_caller(settings.places).record) as record:
            if asked.command == "show":
                return _show(asked, record, zone)
            rows = record.incidents(
                _day(asked.since, zone), _day(asked.until, zone), asked.machine, asked.alarm, limit=asked.limit
            )
    except Stop as stop:
        complain(str(stop))
        return stop.status
    except RecordUnusable as unusable:
        complain(str(unusable))
        return FOUND_WRONG
    if asked.json:
        for row in rows:
            say(json.dumps(_plain(row), ensure_ascii=False))
    elif not rows:
        say("no incidents")
    else:
        for row in rows:
            say(_line(row, zone))
    return DONE


def _day(written: str | None, zone: ZoneInfo) -> float | None:
    if written is None:
        return None
    try:
        read = datetime.fromisoformat(written)
    except ValueError:
        raise Stop(USAGE, f"{written!r} is no date. Write 2026-03-02 or 2026-03-02T09:00.") from None
    return (read if read.tzinfo is not None else read.replace(tzinfo=zone)).timestamp()


def _line(row: IncidentRow, zone: ZoneInfo) -> str:
    mark, colour = MARKS[row.priority.value]
    end = "stands" if row.quiet is None else f"lasted {span(row.quiet - row.opened)}"
    if row.quiet is not None and row.standing:
        end += ", waits for an acknowledgement"
    by = f", taken on by {', '.join(row.acknowledged_by)}" if row.acknowledged_by else ""
    names = ", ".join(row.alarms)
    return f"{row.id:>5}  {_when(row.opened, zone)}  {paint(f'{mark:<8}', colour)}  {row.machine}  {names}  {end}{by}"


def _show(asked: argparse.Namespace, record: Reader, zone: ZoneInfo) -> int:
    incident = record.incident(reference(asked.id))
    if incident is None:
        complain(f"there is no incident {asked.id!r}. `emberward incidents` lists them.")
        return FOUND_WRONG
    if asked.json:
        say(json.dumps(_plain(incident), ensure_ascii=False, indent=1))
        return DONE
    for line in lines(incident, zone, asked.lines):
        say(line)
    return DONE


def lines(incident: Incident, zone: ZoneInfo, most_lines: int) -> list[str]:
    """One incident as text: what stood, who was told, what the machine did and said."""
    row = incident.row
    shown = [paint(f"incident {row.id}", "bold") + f"  {row.machine}  {_when(row.opened, zone)} ({zone.key})", ""]
    for alarm in incident.alarms:
        shown += _alarm(alarm, zone)
    shown += ["", paint("told", "bold")]
    shown += [f"  {line}" for message in incident.messages for line in _message(message, zone)] or ["  nobody"]
    if incident.readings:
        shown += ["", paint("nozzle, °C", "bold"), *_chart(incident.readings, zone)]
    shown += ["", paint("what happened", "bold")]
    happened = [(state.at, f"{state.axis}: {state.before} → {state.after}") for state in incident.states]
    happened += [(job.at, f"job {job.event}" + (f" ({job.why})" if job.why else "")) for job in incident.jobs]
    happened += [(note.at, f"{note.kind} {_facts(note.facts)}") for note in incident.notes]
    shown += [f"  {_clock(at, zone)}  {what}" for at, what in sorted(happened)] or ["  nothing else"]
    if incident.lines and most_lines > 0:
        left_out = len(incident.lines) - most_lines + incident.lines_dropped
        shown += ["", paint("traffic", "bold") + (f"  ({left_out} earlier lines: --lines)" if left_out > 0 else "")]
        shown += [
            f"  {_clock(line.at, zone)} {line.direction.value} {line.text}" for line in incident.lines[-most_lines:]
        ]
    return shown


def _alarm(alarm: AlarmRow, zone: ZoneInfo) -> list[str]:
    mark, colour = MARKS[alarm.priority.value]
    row = TABLE.get(alarm.alarm)
    what = row.what if row is not None else ""
    shown = [f"{paint(mark, colour, 'bold')}  {alarm.alarm}: {what}  [{_facts(alarm.evidence)}]"]
    if row is not None:
        shown.append(f"    first action: {row.action}. If nobody acts: {row.consequence}")
    for step in alarm.steps:
        by = f" by {step.by} ({step.how})" if step.by else ""
        note = f": {step.note}" if step.note else ""
        shown.append(f"    {_clock(step.at, zone)}  {step.transition.value}{by}{note}")
    return shown


def _message(message: Message, zone: ZoneInfo) -> list[str]:
    state = "waits" if message.delivered is None else f"taken by a server {_clock(message.delivered, zone)}"
    if message.given_up is not None:
        state = f"given up: {message.given_up_why}"
    shown = [
        f"{_clock(message.created, zone)}  {message.person}: {message.tell.kind.value} {message.tell.alarm}, {state}"
    ]
    shown += [
        f"            {_clock(attempt.at, zone)}  {attempt.route} {attempt.outcome.value} {attempt.detail}"
        for attempt in message.attempts
        if attempt.outcome.value != "delivered"
    ]
    return shown


def _chart(readings: Sequence[ReadingRow], zone: ZoneInfo) -> list[str]:
    """The nozzle's temperature as one line of blocks, oldest left; a blank where nothing was known."""
    first, last = readings[0].at, readings[-1].at
    columns: list[list[float]] = [[] for _ in range(WIDTH)]
    for reading in readings:
        if reading.nozzle is not None:
            place = int((reading.at - first) / max(1e-9, last - first) * (WIDTH - 1))
            columns[place].append(reading.nozzle)
    known = [value for column in columns for value in column]
    if not known:
        return ["  not known"]
    low, high = min(known), max(known)
    blocks = "".join(_block(max(column), low, high) if column else " " for column in columns)
    return [f"  {blocks}", f"  {_clock(first, zone)}{_clock(last, zone):>{WIDTH - 8}}   {low:.0f} to {high:.0f} °C"]


def _block(value: float, low: float, high: float) -> str:
    return BLOCKS[min(len(BLOCKS) - 1, int((value - low) / max(1e-9, high - low) * len(BLOCKS)))]


def _facts(facts: Any) -> str:
    return ", ".join(f"{name} {value}" for name, value in facts.items() if value is not None)


def _when(stamp: float, zone: ZoneInfo) -> str:
    return f"{datetime.fromtimestamp(stamp, zone):%Y-%m-%d %H:%M}"


def _clock(stamp: float, zone: ZoneInfo) -> str:
    return f"{datetime.fromtimestamp(stamp, zone):%H:%M:%S}"


_STAMPS = {
    "at",
    "opened",
    "quiet",
    "raised",
    "acknowledged",
    "returned",
    "cleared",
    "let_go",
    "created",
    "delivered",
    "given_up",
}


def _plain(value: Any, name: str = "") -> Any:
    """NamedTuples as objects, stamps as RFC 3339."""
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        named: NamedTuple = value  # type: ignore[assignment]
        return {key: _plain(item, key) for key, item in named._asdict().items()}
    if isinstance(value, tuple | list):
        return [_plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, float) and name in _STAMPS:
        return stamp_text(value)
    return dict(value) if hasattr(value, "items") else value
