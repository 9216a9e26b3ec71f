"""The lines of a message's body, one fact each."""

from collections.abc import Collection, Iterator

from watchdog.alerts.matters import Matter
from watchdog.alerts.plain import clock_time, duration, seen, shorten, zone_name
from watchdog.alerts.wording import Wording
from watchdog.core.alarms.alarm import Alarm
from watchdog.core.effects import Tell, TellKind
from watchdog.record.parcels import Parcel

_REASON = 120  # characters: a reason of the routing has 50


def facts(row: Alarm, matter: Matter, wording: Wording) -> Iterator[str]:
    """All that is to be said of one alarm that stands, but for its first line."""
    tell, say, language = matter.tell, wording.language.say, wording.language
    since, zone = tell.since.stamp, wording.zone
    yield say("fact.machine", machine=shorten(matter.machine, 80))
    yield say("fact.what", what=row.what)
    time = f"{clock_time(since, zone, wording.now, language)} {zone_name(since, zone)}".rstrip()
    yield say("fact.since", time=time, ago=duration(wording.now - since, language))
    if evidence := seen(tell.evidence, show_files=wording.show_files, language=language):
        yield say("fact.seen", facts=nameless(", ".join(evidence), wording))
    if matter.reminds:
        yield say("fact.told_once") if tell.nth <= 2 else say("fact.told", count=tell.nth - 1)
    elif tell.kind is TellKind.ESCALATED:
        yield say("fact.now_urgent")
    yield from why(matter, wording)
    yield say("fact.first", action=row.action)
    yield say("fact.then", then=row.then)
    yield say("fact.otherwise", consequence=row.consequence)
    yield say("fact.within", time=duration(row.within(tell.priority), language))
    yield from to_answer(matter, wording)
    yield _next(tell, wording)


def why(matter: Matter, wording: Wording) -> Iterator[str]:
    """Why this person is told; nothing where it is the one who comes first. A reason that the language does not know is told as
    it is."""
    told = wording.language.said("reasons", matter.why)
    reason = matter.why if told is None else told
    if reason:
        yield wording.language.say("fact.why", reason=nameless(shorten(reason, _REASON), wording))


def late(parcels: Collection[Parcel], wording: Wording) -> str:
    """That the oldest of `parcels` comes late; '' when it does not. What was to wait for a break is not late before it."""
    oldest = min(parcels, key=_due)
    if wording.now - _due(oldest) <= wording.late_after:
        return ""
    again = oldest.tell.kind is TellKind.REMINDER  # its alarm may well have been told in time
    stamps = (_due(oldest) if again else oldest.tell.since.stamp, wording.now)
    raised, now = (clock_time(stamp, wording.zone, wording.now, wording.language) for stamp in stamps)
    name = "fact.late_note" if again or oldest.tell.kind is TellKind.NOTICE else "fact.late"
    return wording.language.say(name, raised=raised, now=now)


def nameless(text: str, wording: Wording) -> str:
    """`text` without people's names."""
    for name in sorted(filter(None, wording.names), key=len, reverse=True):
        text = text.replace(name, wording.language.say("unknown.person"))
    return text


def _due(parcel: Parcel) -> float:
    return parcel.created if parcel.not_before is None else max(parcel.created, parcel.not_before)


def to_answer(matter: Matter, wording: Wording) -> Iterator[str]:
    """How it is acknowledged. The link first, for the phone in the hand; the command for where the page is not reached."""
    say = wording.language.say
    if link := wording.links(matter):
        yield say("fact.answer", link=link)
    if allow := wording.outlast_links(matter):
        yield say("fact.allow", link=allow)
    yield say("fact.command_too" if link else "fact.command", command=matter.acknowledge)


def _next(tell: Tell, wording: Wording) -> str:
    say = wording.language.say
    if tell.next_at is None:
        return say("fact.next_none")
    left = tell.at.stamp + tell.next_at - wording.now
    return say("fact.next", time=duration(left, wording.language)) if left >= 1 else say("fact.next_soon")
