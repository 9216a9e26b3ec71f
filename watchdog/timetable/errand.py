"""One calendar, from its source to its periods: what the child process does, and how it is asked and answers (JSON)."""

import hashlib
import json
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from watchdog.core.timetable import Kind, Period
from watchdog.timetable import copies
from watchdog.timetable.copies import Copy
from watchdog.timetable.faults import SourceAway, UnreadableCalendar
from watchdog.timetable.fetching import Validators, fetch
from watchdog.timetable.options import Calendar, Meaning, Source
from watchdog.timetable.reading import Reading, read


class Errand(NamedTuple):
    """What is asked for."""

    calendar: Calendar
    zone: ZoneInfo
    now: float
    """stamp"""
    start: float
    stop: float
    copies: Path | None
    keep: bool
    stale_after: float
    limit: float
    """s for the fetching"""
    known: str | None = None
    """`Answer.mark` of what the asker has already"""


class Answer(NamedTuple):
    """What has come of it."""

    periods: tuple[Period, ...] | None
    """None: as the asker has them. Empty beside a `trouble` without a copy"""
    mark: str | None
    """stands for content, window and meaning; None: nothing could be read"""
    trouble: str | None = None
    """why these periods cannot be relied on; a sentence without the calendar's name"""
    remark: str | None = None
    """what else an operator should know: a copy stands in, or none could be kept"""
    unnamed: str | None = None
    """which duties were left out; told with `periods`"""


def do(errand: Errand, elapsed: Callable[[], float]) -> Answer:
    """Fetch, read and keep; never raises for what source or calendar are like."""
    calendar, folder = errand.calendar, errand.copies
    copy = copies.load(folder, calendar.name, calendar.source) if folder is not None else None
    try:
        got = fetch(calendar.source, copy.validators if copy is not None else Validators(), errand.limit, elapsed)
    except SourceAway as away:
        return _from_copy(errand, copy, str(away), away=True)
    if got.content is None and copy is None:  # a server that says 'unchanged' to one that asked nothing of the kind
        return _from_copy(errand, None, "the server sent nothing", away=True)
    content = copy.content if got.content is None and copy is not None else got.content or b""
    mark = _mark(errand, content)
    try:
        reading = None if mark == errand.known else _read(errand, content)
    except UnreadableCalendar as fault:
        return _from_copy(errand, copy, str(fault), away=False)
    remark = None
    if errand.keep and folder is not None:
        try:
            copies.save(folder, calendar.name, calendar.source, Copy(content, errand.now, got.validators))
        except OSError as wrong:
            remark = f"no copy of it can be kept in {folder}: {wrong.strerror or wrong}"
    return Answer(None if reading is None else reading.periods, mark, None, remark, _unnamed(reading))


def _from_copy(errand: Errand, copy: Copy | None, why: str, *, away: bool) -> Answer:
    """What can still be said from the last good copy; it counts for a while when its source is only away."""
    if copy is None:
        return Answer((), None, why)
    mark = _mark(errand, copy.content)
    try:
        reading = None if mark == errand.known else _read(errand, copy.content)
    except UnreadableCalendar:  # read once with another release of this program
        return Answer((), None, why)
    when = datetime.fromtimestamp(copy.confirmed, errand.zone).strftime("%a %d %b %Y %H:%M")
    words = f"{why}. Used meanwhile: the copy of {when}, {_age(errand.now - copy.confirmed)} old"
    fresh = away and errand.now - copy.confirmed <= errand.stale_after
    periods = None if reading is None else reading.periods
    return Answer(periods, mark, None if fresh else words, words if fresh else None, _unnamed(reading))


def _read(errand: Errand, content: bytes) -> Reading:
    return read(content, errand.calendar.meaning, errand.start, errand.stop, errand.zone)


def _mark(errand: Errand, content: bytes) -> str:
    window = f"{errand.start} {errand.stop} {errand.zone.key} {errand.calendar.meaning}\n"
    return hashlib.sha256(window.encode() + content).hexdigest()


def _unnamed(reading: Reading | None) -> str | None:
    if reading is None or not reading.unnamed:
        return None
    shown = ", ".join(f"{line:,}" for line in reading.unnamed[:5]) + (" …" if len(reading.unnamed) > 5 else "")
    return f"{len(reading.unnamed)} duties name nobody of the settings (lines {shown}); see `people` of this calendar"


def _age(seconds: float) -> str:
    hours = max(0.0, seconds) / 3600
    return f"{hours:.0f} h" if hours < 48 else f"{hours / 24:.0f} days"


def errand_to_json(errand: Errand) -> str:
    """For the child's standard input: an address among a process's arguments could be read by others."""
    calendar, source, meaning = errand.calendar, errand.calendar.source, errand.calendar.meaning
    told = errand._asdict() | {
        "calendar": calendar.name,
        "zone": errand.zone.key,
        "copies": None if errand.copies is None else str(errand.copies),
        "file": None if source.file is None else str(source.file),
        "root": None if source.root is None else str(source.root),
        "address": source.address,
        "proxy": source.proxy,
        "kind": meaning.kind,
        "person": meaning.person,
        "words": meaning.words,
        "names": meaning.names,
    }
    return json.dumps(told)


def errand_from_json(text: str) -> Errand:
    """The reverse of `errand_to_json`."""
    told: dict[str, Any] = json.loads(text)
    file, root, folder = (None if told[key] is None else Path(told[key]) for key in ("file", "root", "copies"))
    words = tuple((word, person) for word, person in told["words"])
    meaning = Meaning(Kind(told["kind"]), told["person"], words, tuple(told["names"]))
    return Errand(
        Calendar(told["calendar"], Source(file, told["address"], told["proxy"], root), meaning),
        ZoneInfo(told["zone"]),
        copies=folder,
        **{name: told[name] for name in ("now", "start", "stop", "keep", "stale_after", "limit", "known")},
    )


def answer_to_json(answer: Answer) -> str:
    """For the child's standard output."""
    periods = None
    if answer.periods is not None:
        periods = [[p.start, p.end, *p.who] for p in answer.periods]
    return json.dumps([periods, answer.mark, answer.trouble, answer.remark, answer.unnamed])


def answer_from_json(text: str | bytes, kind: Kind) -> Answer:
    """The reverse of `answer_to_json`; ValueError when it is none."""
    told, mark, trouble, remark, unnamed = json.loads(text)
    periods = None
    if told is not None:
        periods = tuple(Period(float(start), float(end), kind, tuple(people)) for start, end, *people in told)
    return Answer(periods, mark, trouble, remark, unnamed)
