"""The review for a terminal."""

from collections.abc import Iterator
from textwrap import wrap

from watchdog.review.report import ADVISORY, Report
from watchdog.review.sections.notes import NOTES
from watchdog.review.sections.shape import Section, Table


def text(report: Report, width: int = 100) -> str:
    """The whole review, at most `width` characters wide where its tables allow it."""
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
        yield from wrap(f"{note.title}. {note.text}", width, subsequent_indent="  ")
    yield ""
    yield from wrap(ADVISORY, width)


def _section(section: Section, width: int) -> Iterator[str]:
    yield section.title.upper()
    for nth, line in enumerate(section.lines, 1):
        mark = f"{nth}. " if section.key == "change" else ""
        yield from wrap(mark + line, width, subsequent_indent=" " * len(mark))
    for table in section.tables:
        yield ""
        yield from _table(table)


def _table(table: Table) -> Iterator[str]:
    rows = [table.head, *table.rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.head))]
    yield table.caption
    for row in rows:
        yield ("  " + "  ".join(cell.ljust(wide) for cell, wide in zip(row, widths, strict=True))).rstrip()
