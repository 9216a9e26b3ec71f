"""The lines that must be enough on a locked screen.

They hold words of the alarm table, the machine's name and times; nothing of the evidence, so no name can slip in.
"""

from collections.abc import Mapping

from watchdog.alerts.matters import Matter
from watchdog.alerts.plain import clock_time, same_day, shorten
from watchdog.alerts.wording import MOST, Wording
from watchdog.core.alarms.alarm import Alarm
from watchdog.core.alarms.telling import TO_ACKNOWLEDGE
from watchdog.core.effects import Priority, TellKind


def row_of(table: Mapping[str, Alarm], name: str, wording: Wording) -> Alarm:
    """The alarm's row, in the reader's language; a plain stand-in for one of another version that still waits in the outbox."""
    row = table.get(name)
    if row is not None:
        return wording.language.alarm(row)
    say = wording.language.say
    return Alarm(
        name=name,
        condition="raised by another version of this program",
        cause="not known to this version",
        consequence=say("another_version.consequence"),
        action=say("another_version.action"),
        what=say("another_version.what", name=name),
        then=say("another_version.then"),
        respond_within=600.0,
        priority=Priority.HIGH,
        off_delay=0.0,
        delays_why="not known to this version",
        remind_after=300.0,
    )


def first_line(row: Alarm, matter: Matter, wording: Wording, *, room: int = MOST) -> str:
    """What to do, where, what is wrong, since when; at most `room` characters (100 or more).

    When it must be cut, what is wrong gives way first, then the machine's name, then the action.
    """
    tell, say = matter.tell, wording.language.say
    since = tell.since.stamp
    today = same_day(since, wording.zone, wording.now)
    time = clock_time(since, wording.zone, wording.now, wording.language)
    ending = say("first.since" if today else "first.since_day", time=time)
    if matter.reminds:
        ending += say("first.reminder", count=min(max(tell.nth - 1, 1), 999))
    elif tell.kind is TellKind.ESCALATED:
        ending += say("first.now_urgent")
    ending += "."
    action = shorten(row.action, room - len(ending) - 20).rstrip(".")
    left = room - len(say("first.line", action=action, place="", what="", ending=ending))
    place = shorten(matter.machine, max(10, left - len(row.what)))
    what = shorten(row.what, left - len(place))
    return say("first.line", action=action, place=place, what=what, ending=ending)


def over_line(row: Alarm, matter: Matter, wording: Wording) -> str:
    """The one line that tells that an alarm has returned by itself; at most 120 characters."""
    tell, say = matter.tell, wording.language.say
    stamps = (tell.since.stamp, tell.at.stamp)
    times = "–".join(clock_time(stamp, wording.zone, wording.now, wording.language) for stamp in stamps)
    ending = say("over.ending", times=times)
    if tell.priority is Priority.URGENT:
        ending += say("over.hot")
    if TO_ACKNOWLEDGE in tell.evidence:
        ending += say("over.to_acknowledge")
    start = say("over.start_unseen" if matter.unseen else "over.start", place=shorten(matter.machine, 20))
    return start + shorten(row.what, MOST - len(start) - len(ending)) + ending
