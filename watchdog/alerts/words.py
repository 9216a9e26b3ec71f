"""The words of a message: what to do first, then the facts.

Pure. The words about an alarm come from its row in the alarm table; the facts come from the parcels. No message carries a
person's name, none carries a file name unless the person's settings allow it, none says 'safe' and none urges haste:
going to a failed print in haste raises exposure (NIOSH 2020-115).
"""

from collections.abc import Collection, Iterator, Mapping, Sequence

from watchdog.alerts.lines import first_line, over_line, row_of
from watchdog.alerts.mail import page
from watchdog.alerts.matters import Matter, matters
from watchdog.alerts.plain import clock_time, duration, seen, shorten, zone_name
from watchdog.alerts.wording import MARKS, MOST, OVER, Minute, Wording, Words
from watchdog.core.alarms.alarm import Alarm
from watchdog.core.effects import Tell, TellKind
from watchdog.record.parcels import Parcel


def message(
    parcels: Collection[Parcel],
    table: Mapping[str, Alarm],
    wording: Wording,
    minutes: Mapping[str, Sequence[Minute]] | None = None,
) -> Words:
    """One message for all `parcels` of one person (at least one). `minutes` holds the last minutes of each machine."""
    about = matters(parcels)
    late = _late(parcels, wording)
    if len(about) > 1:
        return _several(about, late, table, wording, minutes or {})
    (matter,) = about
    row = row_of(table, matter.tell.alarm)
    if matter.over:
        return _over(over_line(row, matter, wording), shorten(matter.machine, 40), late if matter.unseen else "")
    first = first_line(row, matter, wording)
    mark = MARKS[matter.tell.priority]
    lines = [first, *_facts(row, matter, wording), *filter(None, (late,))]
    last = (minutes or {}).get(matter.machine, ())
    return Words(
        f"{mark} {shorten(matter.machine, 40)}", f"{mark} {first}", first, _text(lines), page(lines, last, wording.zone)
    )


def _facts(row: Alarm, matter: Matter, wording: Wording) -> Iterator[str]:
    tell = matter.tell
    since, zone = tell.since.stamp, wording.zone
    yield f"Machine: {shorten(matter.machine, 80)}"
    yield f"What: {row.what}"
    ago = duration(wording.now - since)
    yield f"Since: {clock_time(since, zone, wording.now)} {zone_name(since, zone)}, {ago} ago"
    if evidence := seen(tell.evidence, show_files=wording.show_files):
        yield f"Seen: {_nameless(', '.join(evidence), wording.names)}"
    if matter.reminds:
        yield f"Told before: {_times(max(tell.nth - 1, 1))}. Nobody has acknowledged it yet."
    elif tell.kind is TellKind.ESCALATED:
        yield "It has become urgent."
    yield f"First: {row.action}"
    yield f"Then: {row.then}"
    yield f"Otherwise: {row.consequence}"
    yield f"Respond within: {duration(row.within(tell.priority))}"
    yield f"To acknowledge: {matter.acknowledge}"
    yield f"Next: {_next(tell, wording.now)}"


def _several(
    about: Sequence[Matter],
    late: str,
    table: Mapping[str, Alarm],
    wording: Wording,
    minutes: Mapping[str, Sequence[Minute]],
) -> Words:
    """One collapsed message: how many, the most urgent first, a line each."""
    lead, count = about[0], len(about)
    if lead.over:
        lines = [_line(matter, table, wording) for matter in about]
        return _over(f"Over: {count} alarms have returned by themselves.", f"{count} messages", late, lines)
    more = f" (+{count - 1} more)"
    row, mark = row_of(table, lead.tell.alarm), MARKS[lead.tell.priority]
    first = first_line(row, lead, wording, room=MOST - len(more)) + more
    lines = [first, f"{count} messages in one, the most urgent first:"]
    lines += [f"{number}. {_line(matter, table, wording)}" for number, matter in enumerate(about, 1)]
    lines += [f"Then, for the first: {row.then}", *filter(None, (late,)), "All the facts: emberward incidents"]
    html = page(lines, minutes.get(lead.machine, ()), wording.zone)
    return Words(f"{mark} {count} messages", f"{mark} {first}", first, _text(lines), html)


def _line(matter: Matter, table: Mapping[str, Alarm], wording: Wording) -> str:
    row = row_of(table, matter.tell.alarm)
    if matter.over:
        return f"{OVER} {over_line(row, matter, wording)}"
    return f"{MARKS[matter.tell.priority]} {first_line(row, matter, wording)} {matter.acknowledge}"


def _over(first: str, title: str, late: str, lines: Sequence[str] = ()) -> Words:
    told = [first, *lines, *filter(None, (late,))]
    return Words(f"{OVER} {title}", f"{OVER} {first}", first, _text(told), page(told, (), None))


def _text(lines: Sequence[str]) -> str:
    """The first line stands alone, so that it is read alone."""
    return "\n".join((lines[0], "", *lines[1:])) if len(lines) > 1 else lines[0]


def _next(tell: Tell, now: float) -> str:
    if tell.next_at is None:
        return "this is not said again."
    left = tell.at.stamp + tell.next_at - now
    when = f"in {duration(left)}" if left >= 1 else "soon"
    return f"said again {when}, until somebody acknowledges it."


def _late(parcels: Collection[Parcel], wording: Wording) -> str:
    oldest = min(parcels, key=lambda parcel: parcel.created)
    if wording.now - oldest.created <= wording.late_after:
        return ""
    raised, now = (clock_time(stamp, wording.zone, wording.now) for stamp in (oldest.tell.since.stamp, wording.now))
    return f"Late: raised {raised}; it could not be sent before {now}."


def _times(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _nameless(text: str, names: Collection[str]) -> str:
    for name in sorted(filter(None, names), key=len, reverse=True):
        text = text.replace(name, "a person")
    return text
