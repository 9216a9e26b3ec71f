"""What a review is made of before it is printed, and how numbers are written in it."""

import re
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from watchdog.review.parts.common import Middle, Part, Sum

NOTHING: Final = "–"
"""where there is no figure"""
MOST_ROWS: Final = 10
"""of one table; the rest is summed up in words"""


class Table(NamedTuple):
    """Rows under heads; the first column names the row."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    note: str
    """key of the note that tells the method"""


class Picture(NamedTuple):
    """A plot that a drawer may know by its key."""

    key: str
    caption: str
    alt: str
    """what it shows, for whoever does not see it"""
    note: str


class Section(NamedTuple):
    """One subject."""

    key: str
    title: str
    lines: tuple[str, ...]
    notes: tuple[str, ...]
    """keys of the notes to its lines"""
    tables: tuple[Table, ...] = ()
    pictures: tuple[Picture, ...] = ()


def share(part: Part) -> str:
    """``96.9 % (281 of 290; 94 to 98 %)``: the share, its count, and its 95 % interval."""
    if part.share is None or part.low is None or part.high is None:
        return "none to count"
    return f"{percent(part.share, part.of)} ({part.counted} of {part.of}; {interval(part)})"


def interval(part: Part) -> str:
    """``94 to 98 %``."""
    if part.low is None or part.high is None:
        return NOTHING
    digits = _digits(part.of)
    return f"{100 * part.low:.{digits}f} to {100 * part.high:.{digits}f} %"


def percent(value: float | None, of: int) -> str:
    """``96.9 %``, of fewer than a hundred ``97 %``; a share of 1 or 0 is written so only when it is."""
    if value is None:
        return NOTHING
    return f"{100 * value:.0f} %" if value in (0.0, 1.0) else f"{100 * value:.{_digits(of)}f} %"


def span(seconds: float | None) -> str:
    """``45 s``, ``12 min``, ``3 h 05 min``, ``140 h``."""
    if seconds is None:
        return NOTHING
    sign, whole = ("-", -seconds) if seconds < 0 else ("", seconds)
    if whole < 90:
        return f"{sign}{whole:.0f} s"
    minutes = round(whole / 60)
    if minutes < 60:
        return f"{sign}{minutes} min"
    return f"{sign}{minutes // 60} h {minutes % 60:02d} min" if minutes < 6000 else f"{sign}{minutes / 60:.0f} h"


def summed(amount: Sum, unit: str = "") -> str:
    """A sum of seconds, or of `unit`; with what it lacks."""
    written = f"{amount.total:.0f} {unit}" if unit else span(amount.total)
    return f"{written} ({amount.unknown} more not known)" if amount.unknown else written


def middle(values: Middle, unit: str = "", digits: int = 0) -> str:
    """``12 min (9 min to 15 min, n = 30)``: the median and its interval, where there are enough for one; of seconds unless a
    unit is given."""

    def write(value: float) -> str:
        return f"{value:.{digits}f}" if unit else span(value)

    if values.median is None:
        return NOTHING
    limits = ""
    if values.low is not None and values.high is not None:
        limits = f"{write(values.low)} to {write(values.high)}, "
    return f"{write(values.median)}{unit} ({limits}n = {values.of})"


def together(text: str) -> str:
    """`text` with a space that does not break between a number and its unit."""
    return _UNITS.sub("\N{NO-BREAK SPACE}", text)


def sentence(text: str) -> str:
    """`text` with a capital letter before it."""
    return text[:1].upper() + text[1:]


def count(number: int, one: str, several: str | None = None) -> str:
    """``1 job``, ``no job``, ``12 jobs``."""
    return f"no {one}" if number == 0 else f"1 {one}" if number == 1 else f"{number} {several or one + 's'}"


def day(stamp: float, zone: str) -> str:
    """``2 March 2026``."""
    at = datetime.fromtimestamp(stamp, ZoneInfo(zone))
    return f"{at.day} {_MONTHS[at.month - 1]} {at.year}"


def last_day(until: float, zone: str) -> str:
    """The last day that a term holds."""
    at = datetime.fromtimestamp(until, ZoneInfo(zone)) - timedelta(seconds=1)
    return day(at.timestamp(), zone)


def listed(words: Sequence[str]) -> str:
    """``a, b and c``."""
    return " and ".join(filter(None, (", ".join(words[:-1]), *words[-1:])))


_UNITS: Final = re.compile(
    r"(?<=\d) (?=(?:%|×|(?:s|min|h|g)\b))|(?<=\bh) (?=\d\d min\b)|(?<=\bn) (?== )|(?<=n =) (?=\d)"
)


def _digits(of: int) -> int:
    return 1 if of >= 100 else 0


_MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December",
)  # fmt: skip
