"""The same message as a small page for mail: self-contained, nothing to fetch, every fact escaped."""

from collections.abc import Collection, Sequence
from html import escape
from zoneinfo import ZoneInfo

from watchdog.alerts.languages import ENGLISH, Language
from watchdog.alerts.plain import clock_time, number
from watchdog.alerts.wording import Minute

_COLUMNS = ("time", "nozzle", "target", "bed", "job")


def page(
    lines: Sequence[str],
    minutes: Sequence[Minute],
    zone: ZoneInfo | None,
    language: Language = ENGLISH,
    links: Collection[str] = (),
) -> str:
    """`lines`, the first of them set apart, and the table of the last minutes (none without `zone`).

    Only `links`, which the watch made itself, can be tapped; an address in the facts is text like the rest.
    """
    first, *facts = (_tappable(escape(line), links) for line in lines)
    parts = [f"<p><strong>{first}</strong></p>"]
    if facts:
        parts.append("<p>" + "<br>\n".join(facts) + "</p>")
    if minutes and zone is not None:
        # preformatted, not a table: the plain part that is made from this page keeps its columns
        title = escape(language.say("table.title"))
        parts.append(f"<p>{title}</p>\n<pre>{escape(columns(minutes, zone, language))}</pre>")
    return f'<!DOCTYPE html>\n<html lang="{language.code}"><body>\n' + "\n".join(parts) + "\n</body></html>"


def columns(minutes: Sequence[Minute], zone: ZoneInfo, language: Language = ENGLISH) -> str:
    """The last minutes in columns, oldest first; ``?`` where nothing is known."""
    head = tuple(language.say(f"table.{column}") for column in _COLUMNS)
    rows = [head, *(_row(minute, zone, language) for minute in sorted(minutes, key=lambda minute: minute.stamp))]
    widths = [max(len(row[column]) for row in rows) for column in range(len(head))]
    return "\n".join("  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True)) for row in rows)


def _row(minute: Minute, zone: ZoneInfo, language: Language) -> tuple[str, ...]:
    readings = (minute.nozzle, minute.target, minute.bed, minute.progress)
    time = clock_time(minute.stamp, zone, minute.stamp, language)
    return (time, *("?" if it is None else number(it, language) for it in readings))


def _tappable(line: str, links: Collection[str]) -> str:
    for link in map(escape, links):
        line = line.replace(link, f'<a href="{link}">{link}</a>')
    return line
