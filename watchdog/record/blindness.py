"""When a machine was not seen: shown as blind, never as all well."""

from collections.abc import Iterable
from typing import Final

from watchdog.core.effects import Noted, StateChanged
from watchdog.core.snapshot import Link
from watchdog.record.pen import Pen
from watchdog.record.term_rows import BlindRow

BLIND: Final = "blind"
"""kind of the note that the watch was off or asleep, with the s that this took"""
WATCH: Final = "watch"
LINK: Final = "link"


def was_off(pen: Pen, machine: str, noted: Noted) -> None:
    """The watch sees again: it was off or asleep until now."""
    seconds = noted.facts.get("seconds")
    if isinstance(seconds, int | float) and seconds > 0:
        since = noted.at.stamp - seconds
        _put(pen, machine, WATCH, since, noted.at.stamp)


def link_changed(pen: Pen, machine: str, change: StateChanged) -> None:
    """The machine can no longer be reached, or can be again."""
    if change.axis != "link":
        return
    pen.run(
        "UPDATE blind_span SET until = ? WHERE machine = ? AND cause = ? AND until IS NULL",
        change.at.stamp,
        machine,
        LINK,
    )
    if change.after == Link.UNAVAILABLE:
        _put(pen, machine, LINK, change.at.stamp, None)


def spans(pen: Pen, machine: str | None, since: float, until: float) -> tuple[BlindRow, ...]:
    """Blind spans that touch the time from `since` to `until`, oldest first. Those of different causes may overlap."""
    rows = pen.all(
        "SELECT machine, cause, since, until FROM blind_span WHERE since < ? AND (until IS NULL OR until > ?)"
        " AND (? IS NULL OR machine = ?) ORDER BY since, id",
        until,
        since,
        machine,
        machine,
    )
    return tuple(BlindRow(*row) for row in rows)


def seconds(spans: Iterable[BlindRow], machine: str, since: float, until: float) -> float:
    """s of the time from `since` to `until` in which `machine` was not seen; a moment that two spans cover counts once."""
    total, reached = 0.0, since
    for span in sorted((one for one in spans if one.machine == machine), key=lambda one: one.since):
        end = until if span.until is None else min(span.until, until)
        start = max(span.since, reached)
        if end > start:
            total += end - start
            reached = end
    return total


def _put(pen: Pen, machine: str, cause: str, since: float, until: float | None) -> None:
    pen.run(
        "INSERT INTO blind_span (machine, cause, since, until) VALUES (?, ?, ?, ?)"
        " ON CONFLICT (machine, cause, since) DO NOTHING",
        machine,
        cause,
        since,
        until,
    )
