"""How one line of a traffic log is laid out: our own recording format, or a pattern with named groups.

pattern    regular expression; groups `text` (must be there), `time`, `direction`
time       'iso', 'epoch' (s), 'epoch-ms', or a strptime format; what it lacks of year or date is taken to be nearest to
           the line before (or to now)
zone       IANA name for times that tell no offset; None: UTC
fold       which of the two hours is meant when summer time ends: 0 the first, 1 the second
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from zoneinfo import ZoneInfo

from watchdog.core.traffic import Direction, TrafficLine, read_line

_YEAR = re.compile(r"(?<!%)(?:%%)*%[YycxG]")
_DAY = re.compile(r"(?<!%)(?:%%)*%[djxcUWVu]")


class BadLayout(ValueError):
    """A layout that cannot work; the message says what is wrong and what would be right."""


@dataclass(frozen=True, slots=True)
class Layout:
    """A line layout as the settings give it."""

    pattern: str
    time: str = "iso"
    zone: str | None = None
    fold: int = 0
    received: tuple[str, ...] = ("<", "<-", "<<", "<<<", "recv", "received", "in", "rx")
    """words of the `direction` group, compared without regard to case"""
    sent: tuple[str, ...] = (">", "->", ">>", ">>>", "send", "sent", "out", "tx")
    remarks: tuple[str, ...] = ("!",)


ReadLine = Callable[[str, float], TrafficLine | None]
"""Text of a log line, and a time near to it (s since 1970), to the line of traffic in it; None when it does not parse."""


def line_reader(layout: Layout | None) -> ReadLine:
    """What reads lines of `layout`; None is our own recording format. BadLayout when it cannot work."""
    if layout is None:
        return lambda text, near: read_line(text)
    try:
        pattern = re.compile(layout.pattern)
    except re.error as fault:
        raise BadLayout(f"pattern is no regular expression: {fault}") from fault
    if "text" not in pattern.groupindex:
        raise BadLayout("pattern has no group named text: write (?P<text>.*) where the line of traffic stands")
    words = {
        word.casefold(): direction
        for direction, known in (
            (Direction.RECEIVED, layout.received),
            (Direction.SENT, layout.sent),
            (Direction.REMARK, layout.remarks),
        )
        for word in known
    }
    has_time, has_direction = "time" in pattern.groupindex, "direction" in pattern.groupindex
    read_time = _time_reader(layout)

    def read(text: str, near: float) -> TrafficLine | None:
        found = pattern.search(text)
        if found is None:
            return None
        stamp = read_time(found["time"] or "", near) if has_time else near
        direction = words.get((found["direction"] or "").strip().casefold()) if has_direction else Direction.RECEIVED
        said = found["text"]
        if stamp is None or direction is None or said is None:
            return None
        return TrafficLine(stamp, direction, said)

    return read


def _time_reader(layout: Layout) -> Callable[[str, float], float | None]:
    zone = _zone(layout.zone)
    if layout.time in ("epoch", "epoch-ms"):
        scale = 1.0 if layout.time == "epoch" else 0.001
        return lambda text, near: _number(text.replace(",", "."), scale)
    if layout.time == "iso":
        return lambda text, near: _local(_iso(text), zone, layout.fold)
    if "%" not in layout.time:
        raise BadLayout(f"time is {layout.time!r}: write iso, epoch, epoch-ms, or a format such as %d.%m.%Y %H:%M:%S")
    form = layout.time
    if _YEAR.search(form):
        return lambda text, near: _local(_strptime(text, form), zone, layout.fold)
    if _DAY.search(form):
        return lambda text, near: _nearest(
            near, (_local(_strptime(f"{year} {text}", f"%Y {form}"), zone, layout.fold) for year in _years(near, zone))
        )
    return lambda text, near: _nearest(
        near, (_local(_strptime(f"{day} {text}", f"%Y-%m-%d {form}"), zone, layout.fold) for day in _days(near, zone))
    )


def _zone(name: str | None) -> tzinfo:
    if name is None:
        return UTC
    try:
        return ZoneInfo(name)
    except (OSError, ValueError, KeyError) as fault:  # ZoneInfoNotFoundError is a KeyError
        raise BadLayout(f"zone {name!r} is not known: write a name such as Europe/Lisbon") from fault


def _number(text: str, scale: float) -> float | None:
    try:
        stamp = float(text) * scale
    except ValueError:
        return None
    return stamp if 0 <= stamp < 32_503_680_000 else None  # before the year 3000; refuses nan and inf as well


def _iso(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text.strip())
    except ValueError:
        return None


def _strptime(text: str, form: str) -> datetime | None:
    try:
        return datetime.strptime(text.strip(), form)  # noqa: DTZ007 - a missing zone is put in by _local
    except ValueError:
        return None


def _local(read: datetime | None, zone: tzinfo, fold: int) -> float | None:
    if read is None:
        return None
    try:
        return (read if read.tzinfo is not None else read.replace(tzinfo=zone, fold=fold)).timestamp()
    except (OverflowError, ValueError, OSError):
        return None


def _years(near: float, zone: tzinfo) -> list[int]:
    year = datetime.fromtimestamp(near, zone).year
    return [year - 1, year, year + 1]


def _days(near: float, zone: tzinfo) -> list[str]:
    day = datetime.fromtimestamp(near, zone).date()
    return [str(day + timedelta(days=step)) for step in (-1, 0, 1)]


def _nearest(near: float, stamps: Iterable[float | None]) -> float | None:
    known = [stamp for stamp in stamps if stamp is not None]
    return min(known, key=lambda stamp: abs(stamp - near), default=None)
