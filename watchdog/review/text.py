"""The review for a terminal."""

from collections.abc import Iterator
from itertools import zip_longest
from textwrap import wrap as broken
from typing import Final

from watchdog.review.report import ADVISORY, Report
from watchdog.review.sections.notes import NOTES
from watchdog.review.sections.shape import Section, Table, together

_NARROWEST: Final = 8  # characters of a column


def text(report: Report, width: int = 100) -> str:
    """The whole review, at most `width` characters wide; a table that is wider has cells of several lines."""
    return "\n".join(_lines(report, width)) + "\n"


def _lines(report: Report, width: int) -> Iterator[str]:
    yield f"{report.title}: {report.term}"
    yield ""
    for sentence in report.sentences:
        yield from wrap(sentence, width)
    for section in (report.change, *report.sections):
        yield ""
        yield from _section(section, width)
    yield ""
    yield "HOW IT IS WORKED OUT"
    for note in NOTES.values():
        yield from wrap(f"{note.title}. {note.text}", width, "  ")
    yield ""
    yield from wrap(ADVISORY, width)


def wrap(text: str, width: int, indent: str = "") -> list[str]:
    """Lines of at most `width` characters, no number parted from its unit."""
    lines = broken(together(text), width, subsequent_indent=indent)
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def _section(section: Section, width: int) -> Iterator[str]:
    yield section.title.upper()
    for nth, line in enumerate(section.lines, 1):
        mark = f"{nth}. " if section.key == "change" and len(section.lines) > 1 else ""
        yield from wrap(mark + line, width, " " * len(mark))
    for table in section.tables:
        yield ""
        yield from _table(table, width)


def _table(table: Table, width: int) -> Iterator[str]:
    rows = [table.head, *table.rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.head))]
    while sum(widths) + 2 * len(widths) > width and max(widths) > _NARROWEST:
        widths[widths.index(max(widths))] -= 1
    yield from wrap(table.caption, width)
    for row in rows:
        cells = [wrap(cell, wide) for cell, wide in zip(row, widths, strict=True)]
        for line in zip_longest(*cells, fillvalue=""):
            yield ("  " + "  ".join(part.ljust(wide) for part, wide in zip(line, widths, strict=True))).rstrip()
