"""`review`: the term in figures, on the terminal, as a printable page, or for programs."""

import argparse
import json
import os
import shutil
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, Stop, complain, say, settings_file
from watchdog.clock import Clock
from watchdog.record.faults import RecordUnusable
from watchdog.record.reader import Reader
from watchdog.review.exported import NoExport, exported
from watchdog.review.figures import Review, figures
from watchdog.review.page import page
from watchdog.review.plain import plain
from watchdog.review.plots import NoPlots, draw
from watchdog.review.recorded import recorded
from watchdog.review.report import report
from watchdog.review.rows import House, last
from watchdog.review.text import text
from watchdog.settings import BadSettings, load
from watchdog.settings.house import house_of
from watchdog.settings.places import of_caller

WEEKS: Final = 14
"""of a term, when no dates are named"""
NARROWEST, WIDEST = 80, 100
"""characters of a line"""


class Term(NamedTuple):
    """Stamps; the second is not included."""

    since: float
    until: float
    now: float


def run(asked: argparse.Namespace) -> int:
    """Print the review, or write it."""
    try:
        house, record = _surroundings(asked)
        term = _term(asked.since, asked.until, house.zone)
        review = _figures(asked.export, record, term, house)
        if asked.html is not None:
            _write(asked.html, review)
    except Stop as stop:
        complain(str(stop))
        return stop.status
    except (RecordUnusable, NoExport) as unusable:
        complain(str(unusable))
        return FOUND_WRONG
    if asked.json:
        say(json.dumps(plain(review), ensure_ascii=False, allow_nan=False))
    elif asked.html is not None:
        say(f"written: {asked.html}")
    else:
        width = min(WIDEST, shutil.get_terminal_size((WIDEST, 24)).columns)
        say(text(report(review), max(NARROWEST, width)).rstrip("\n"))
    return DONE


def _surroundings(asked: argparse.Namespace) -> tuple[House, Path]:
    file = settings_file(asked)
    if asked.config is None and file is not None and not os.access(file, os.R_OK):
        complain(
            f"{file}: closed to this account; prices, hours and causes are the usual ones. Name your own by --config."
        )
        file = None
    try:
        settings = load(file, addresses="not needed")
    except BadSettings as bad:
        raise Stop(USAGE, str(bad)) from None
    return house_of(settings), of_caller(settings.places).record


def _figures(folder: Path | None, record: Path, term: Term, house: House) -> Review:
    if folder is not None:
        rows = exported(folder, term.since, term.until, house)
    else:
        with Reader.read(record) as reader, reader.one_moment():
            rows = recorded(reader, term.since, term.until, house)
    # Days that are still to come are not counted as days without an alarm; a simulated record may lie ahead of today.
    end = min(term.until, max(term.now, last(rows)))
    if term.since >= end:
        raise Stop(
            USAGE,
            f"the term would begin on {datetime.fromtimestamp(term.since, house.zone):%Y-%m-%d}, which is still to come",
        )
    return figures(rows, term.since, end, house)


def _term(since: str | None, until: str | None, zone: ZoneInfo) -> Term:
    """Whole days in the zone; `until` is the last of them."""
    now = Clock().now().stamp
    final = datetime.fromtimestamp(now, zone).date() if until is None else _day(until)
    first = final - timedelta(weeks=WEEKS) + timedelta(days=1) if since is None else _day(since)
    if first > final:
        raise Stop(USAGE, f"the term would begin on {first}, after its last day, {final}")
    return Term(_midnight(first, zone), _midnight(final + timedelta(days=1), zone), now)


def _day(written: str) -> date:
    try:
        return date.fromisoformat(written)
    except ValueError:
        raise Stop(USAGE, f"{written!r} is no date. Write 2026-03-02.") from None


def _midnight(day: date, zone: ZoneInfo) -> float:
    return datetime(day.year, day.month, day.day, tzinfo=zone).timestamp()


def _write(file: Path, review: Review) -> None:
    try:
        plots, without = draw(review), ""
    except NoPlots as missing:
        plots, without = {}, f"{missing}. The tables hold every figure."
        complain(str(missing))
    try:
        file.write_text(page(report(review), plots, without), encoding="utf-8")
    except OSError as error:
        raise Stop(FOUND_WRONG, f"{file}: cannot be written ({error.strerror or error})") from None
