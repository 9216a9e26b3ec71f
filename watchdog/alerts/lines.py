"""The lines that must be enough on a locked screen.

They hold words of the alarm table, the machine's name and times; nothing of the evidence, so no name can slip in.
"""

from collections.abc import Mapping

from watchdog.alerts.matters import Matter
from watchdog.alerts.plain import clock_time, shorten
from watchdog.alerts.wording import MOST, Wording
from watchdog.core.alarms.alarm import Alarm
from watchdog.core.alarms.telling import TO_ACKNOWLEDGE
from watchdog.core.effects import Priority, TellKind

HOT = "Parts stay hot after the heater is off."


def row_of(table: Mapping[str, Alarm], name: str) -> Alarm:
    """The alarm's row; a plain stand-in for an alarm of another version that still waits in the outbox."""
    row = table.get(name)
    if row is not None:
        return row
    return Alarm(
        name=name,
        condition="raised by another version of this program",
        cause="not known to this version",
        consequence="Not known to this version.",
        action="Look at the machine",
        what=f"alarm {name}",
        then="See `emberward incidents`.",
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
    tell = matter.tell
    ending = f" since {clock_time(tell.since.stamp, wording.zone, wording.now)}"
    if matter.reminds:
        ending += f", reminder {min(max(tell.nth - 1, 1), 999)}"
    elif tell.kind is TellKind.ESCALATED:
        ending += ", now urgent"
    ending += "."
    action = shorten(row.action, room - len(ending) - 20).rstrip(".")
    left = room - len(action) - len(ending) - len(". : ")
    place = shorten(matter.machine, max(10, left - len(row.what)))
    what = shorten(row.what, left - len(place))
    return f"{action}. {place}: {what}{ending}"


def over_line(row: Alarm, matter: Matter, wording: Wording) -> str:
    """The one line that tells that an alarm has returned by itself; at most 120 characters."""
    tell = matter.tell
    times = "–".join(clock_time(stamp, wording.zone, wording.now) for stamp in (tell.since.stamp, tell.at.stamp))
    ending = f", {times}."
    if tell.priority is Priority.URGENT:
        ending += f" {HOT}"
    if TO_ACKNOWLEDGE in tell.evidence:
        ending += " Still to be acknowledged."
    start = "Over before you were told" if matter.unseen else "Over"
    start += f": {shorten(matter.machine, 20)}: "
    return start + shorten(row.what, MOST - len(start) - len(ending)) + ending
