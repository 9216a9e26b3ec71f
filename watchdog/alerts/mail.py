"""The same message as a small page for mail: self-contained, nothing to fetch, every fact escaped."""

from collections.abc import Sequence
from html import escape
from zoneinfo import ZoneInfo

from watchdog.alerts.plain import clock_time, number
from watchdog.alerts.wording import Minute

_HEAD = ("time", "nozzle °C", "target °C", "bed °C", "job %")


def page(lines: Sequence[str], minutes: Sequence[Minute], zone: ZoneInfo | None) -> str:
    """`lines`, the first of them set apart, and the table of the last minutes (none without `zone`)."""
    first, *facts = (escape(line) for line in lines)
    parts = [f"<p><strong>{first}</strong></p>"]
    if facts:
        parts.append("<p>" + "<br>\n".join(facts) + "</p>")
    if minutes and zone is not None:
        # preformatted, not a table: the plain part that is made from this page keeps its columns
        parts.append(f"<p>The last minutes:</p>\n<pre>{escape(columns(minutes, zone))}</pre>")
    return '<!DOCTYPE html>\n<html lang="en"><body>\n' + "\n".join(parts) + "\n</body></html>"


def columns(minutes: Sequence[Minute], zone: ZoneInfo) -> str:
    """The last minutes in columns, oldest first; ``?`` where nothing is known."""
    rows = [_HEAD, *(_row(minute, zone) for minute in sorted(minutes, key=lambda minute: minute.stamp))]
    widths = [max(len(row[column]) for row in rows) for column in range(len(_HEAD))]
    return "\n".join("  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows)


def _row(minute: Minute, zone: ZoneInfo) -> tuple[str, ...]:
    readings = (minute.nozzle, minute.target, minute.bed, minute.progress)
    return (clock_time(minute.stamp, zone, minute.stamp), *("?" if it is None else number(it) for it in readings))
