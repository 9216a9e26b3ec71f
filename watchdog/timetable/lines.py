"""The content lines of a calendar (RFC 5545, section 3.1) that say when something is; the rest is dropped here.

Descriptions, attendees, alarms, attachments, tasks and journals never reach the reader: they tell no time, they hold what is
nobody's business, and in a hostile file they are where the weight is. Each event carries the line on which it begins.
"""

import re
from typing import NamedTuple

from watchdog.timetable.faults import UnreadableCalendar

LARGEST = 5 * 2**20
"""bytes of a calendar; ten years of a large school's lessons are below 2 MB; project's choice"""
DEEPEST = 6
"""components within each other; RFC 5545 needs three (calendar, zone or event, what is in it)"""
MOST_DATES = 50_000
"""single dates (RDATE, EXDATE) in all; as many as occurrences"""
MARK = "X-EMBERWARD-LINE"
"""the property that carries an event's line into the parsed component"""
_NAME = re.compile(r"([A-Za-z0-9-]+)(?=[;:])")
_KEPT = frozenset(
    "UID DTSTART DTEND DURATION RRULE RDATE EXDATE RECURRENCE-ID SEQUENCE STATUS SUMMARY".split()  # noqa: SIM905
)
_ZONE = frozenset("TZID DTSTART TZOFFSETFROM TZOFFSETTO TZNAME RRULE RDATE BEGIN END".split())  # noqa: SIM905
_AGAIN = "Fetch or export it again; if it stays so, its publisher must mend it"


class Slim(NamedTuple):
    """What is left of a calendar."""

    text: str
    """one VCALENDAR with zones first"""
    places: dict[tuple[int, str], int]
    """(line of the event, name of a property) → line of that property"""
    events: int


def slim(raw: bytes) -> Slim:
    """The lines of `raw` that tell times. Raises UnreadableCalendar."""
    zones: list[str] = []
    events: list[str] = []
    places: dict[tuple[int, str], int] = {}
    stack: list[str] = []
    seen, count, dates, event_line, last = False, 0, 0, 0, 1
    for number, line in unfolded(_text(raw)):
        last = number
        found = _NAME.match(line)
        if found is None:
            continue  # a long text that was broken without the blank of a folded line; no property begins like this
        name = found[1].upper()
        value = line[found.end() + 1 :].strip()
        if name == "BEGIN":
            stack.append(value.upper())
            if len(stack) > DEEPEST:
                raise UnreadableCalendar(f"components lie {len(stack)} deep within each other", _AGAIN, number)
            seen = seen or stack == ["VCALENDAR"]
            if stack == ["VCALENDAR", "VEVENT"]:
                event_line, count = number, count + 1
                events += ["BEGIN:VEVENT", f"{MARK}:{number}"]
        if stack[:2] == ["VCALENDAR", "VTIMEZONE"]:
            if name in _ZONE:
                zones.append(_zone_line(name, line, number))
        elif stack == ["VCALENDAR", "VEVENT"] and name in _KEPT and (value or line[found.end()] == ";"):
            if name in {"RDATE", "EXDATE"}:
                dates += 1 + line.count(",")
                if dates > MOST_DATES:
                    raise UnreadableCalendar(f"it lists more than {MOST_DATES:,} single dates", _AGAIN, number)
            if name != "SUMMARY" and any(not character.isprintable() for character in line):
                raise UnreadableCalendar(f"{name} holds characters that are no text", _AGAIN, number)
            events.append(line.replace(" ", "") if name == "RRULE" else line)  # some write BYDAY=MO, TU
            places.setdefault((event_line, name), number)
        if name == "END":
            if stack[-1:] != [value.upper()]:
                raise UnreadableCalendar(f"END:{_shown(value)} closes nothing that is open", _AGAIN, number)
            if stack == ["VCALENDAR", "VEVENT"]:
                events.append("END:VEVENT")
            stack.pop()
    if not seen:
        raise UnreadableCalendar("it holds no calendar", "It must begin with BEGIN:VCALENDAR. Look at what is there")
    if stack:
        raise UnreadableCalendar(f"it ends in the middle: {_shown(stack[-1])} is not closed", _AGAIN, last)
    text = "\r\n".join(
        ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//emberward//EN", *zones, *events, "END:VCALENDAR", ""]
    )
    return Slim(text, places, count)


def unfolded(text: str) -> list[tuple[int, str]]:
    """Content lines with the number (from 1) of the line on which each begins; folded ones are joined."""
    joined: list[tuple[int, list[str]]] = []
    for number, line in enumerate(text.replace("\r\n", "\n").replace("\r", "\n").split("\n"), 1):
        if line[:1] in {" ", "\t"} and joined:
            joined[-1][1].append(line[1:])
        elif line.strip():
            joined.append((number, [line]))
    return [(number, "".join(parts)) for number, parts in joined]


def is_web_page(raw: bytes) -> bool:
    """Whether `raw` is a page for a browser, as a network's sign-in sends it instead of what was asked for."""
    return raw.removeprefix(b"\xef\xbb\xbf").lstrip()[:1] == b"<"


def _text(raw: bytes) -> str:
    if len(raw) > LARGEST:
        raise UnreadableCalendar(f"it is larger than {LARGEST // 2**20} MB", "Export the present school year alone")
    if is_web_page(raw):
        raise UnreadableCalendar("it is a web page and no calendar", "Use the address or file that ends in .ics")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = raw.count(b"\n", 0, wrong.start) + 1
        raise UnreadableCalendar("it is no text in UTF-8", "Export it again as iCalendar in UTF-8", line) from None


def _zone_line(name: str, line: str, number: int) -> str:
    """Clock changes come once a year: what repeats otherwise would only keep the reader busy."""
    rule = line.upper()
    interval = re.search(r"INTERVAL=(\d*)", rule)
    if name == "RRULE" and ("FREQ=YEARLY" not in rule or (interval is not None and interval[1] != "1")):
        raise UnreadableCalendar("a time zone changes its clock by a rule that is not yearly", _AGAIN, number)
    return line


def _shown(word: str) -> str:
    """A component's name as far as it is one: nothing else of a calendar is repeated."""
    return word.upper() if re.fullmatch(r"[A-Za-z0-9-]{1,20}", word) else "…"
