"""What one row of the alarm table holds, how often people are reminded, and what makes a row unfit.

After the rationalisation record of ANSI/ISA-18.2 (IEC 62682): cause, consequence of no action, corrective action, time to
respond, priority, delays, suppression by design. An alarm without a first action is an event, not an alarm.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import NamedTuple

from watchdog.core.effects import Priority


class Rhythm(NamedTuple):
    """How often an alarm that nobody answers is said again."""

    first: float
    """s from the first message to the first reminder"""
    growth: float
    """each pause is this many times the one before"""
    longest: float
    """s: no pause grows beyond it, so an alarm that stands is never forgotten"""


REMINDING: Mapping[Priority, Rhythm] = MappingProxyType(
    {
        # Minutes count and the first message may have been missed: told after 0, 2, 5, 9.5, 16, 26 … min, 9 times in the first
        # hour. ISA-18.2 takes about 12 an hour for the most that one operator can manage; this one teaches.
        Priority.URGENT: Rhythm(120.0, 1.5, 600.0),
        # Half of the usual time to respond, so that one reminder comes in time to act on; then 15 and 35 min after the first
        # message, and half-hourly: 4 messages in the first hour, where about 6 an hour are acceptable (ISA-18.2).
        Priority.HIGH: Rhythm(300.0, 2.0, 1800.0),
        # This lesson or today: after 1, 3, 7, 15 h, then once a day.
        Priority.LOW: Rhythm(3600.0, 2.0, 86400.0),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Alarm:
    """One alarm that the watch can raise, with all that a person needs to act on it.

    The settings may replace delays, `remind_after`, `re_alarm_after` and `priority` (`dataclasses.replace`); the words stay.
    """

    name: str
    condition: str
    """when it is raised, in one sentence, with the detector's own defaults"""
    cause: str
    consequence: str
    """what happens when nobody acts"""
    action: str
    """the first thing to do; verb first, at most 60 characters: it leads the message"""
    what: str
    """what is the matter, at most 45 characters, for the message"""
    then: str
    """what comes after the first action, in whole sentences, for a message that has room"""
    respond_within: float
    """s from the raising within which acting still helps"""
    urgent_within: float | None = None
    """s to respond once the detector has lifted it to urgent; None where it never does, or is urgent anyway"""
    priority: Priority
    latched: bool = False
    """stays until a person acknowledges it, also after the condition has gone"""
    on_delay: float = 0.0
    """s that the condition must hold unbroken; 0 where the detector itself has waited"""
    off_delay: float
    """s that it is still held after the condition went"""
    delays_why: str
    remind_after: float
    """s from the first message to the first reminder; later pauses grow (`REMINDING`)"""
    re_alarm_after: float | None = None
    """s after an acknowledgement at which it is told again as if nobody had answered, the condition still being there. None,
    the default everywhere: somebody took it on, and an adult is not asked twice. Three times `respond_within` is a fair
    value where people tend to forget."""
    spoken: bool = True
    """whether people are told; False: recorded only, unless the settings (`alarms.NAME.spoken`) say otherwise"""
    spoken_why: str = ""
    """why it is not; '' where it is"""
    suppresses: tuple[str, ...] = ()
    """alarms that only follow from this one: not announced while this one stands. They are rows further down the table,
    so one pass from the top knows every suppressor. An urgent alarm is never suppressed, whatever is written here."""
    covers: tuple[str, ...] = ()
    """alarms that follow from this one and ask for the same: not announced while nobody has acknowledged it, since its
    reminders say enough. Once somebody has, they are told as ever: a deed that was forgotten must not stay unsaid. Rows
    further down the table, and never urgent ones."""
    grows_from: tuple[str, ...] = ()
    """alarms that this urgent one may follow from: while one of them stands and was told, and names no other heater, this is
    said as that incident grown (`TellKind.ESCALATED`): at its own priority, to everybody whom it concerns, and raised in the
    record like any other, but not as a second incident that people must first sort out from the one they are at."""

    def within(self, priority: Priority) -> float:
        """s to respond at `priority`, which may have been lifted above the row's own."""
        lifted = priority is Priority.URGENT and self.priority is not Priority.URGENT
        return self.urgent_within if lifted and self.urgent_within is not None else self.respond_within


_ACTION_LENGTH = 60  # characters: with machine and `what` it must fit in the 120 that a locked screen shows
_WHAT_LENGTH = 45
_NEVER = ("safe", "rush", "hurry", "quick", "immediately")  # haste and false comfort hurt people


def problems(table: Mapping[str, Alarm]) -> tuple[str, ...]:
    """Everything that makes `table` unfit to alarm with, one sentence each; empty when nothing does."""
    found: list[str] = []
    above: set[str] = set()
    for name, row in table.items():
        found += [f"{name}: {problem}" for problem in _row_problems(name, row)]
        for does, victim in (
            *(("suppresses", one) for one in row.suppresses),
            *(("covers", one) for one in row.covers),
        ):
            if victim not in table:
                found.append(f"{name}: {does} {victim}, which is no alarm")
            elif victim == name or victim in above:
                found.append(f"{name}: {does} {victim}, which must stand below it in the table")
            elif table[victim].priority is Priority.URGENT:
                found.append(f"{name}: {does} {victim}, which is urgent")
        for seed in row.grows_from:
            if seed not in table or seed == name:
                found.append(f"{name}: grows from {seed}, which is no other alarm")
        if row.grows_from and row.priority is not Priority.URGENT and row.urgent_within is None:
            found.append(f"{name}: grows, but is never urgent")
        above.add(name)
    return tuple(found)


def _row_problems(name: str, row: Alarm) -> Iterator[str]:
    words = {field.name: getattr(row, field.name) for field in fields(row) if isinstance(getattr(row, field.name), str)}
    if name != row.name:
        yield f"its row is named {row.name}"
    for field, text in words.items():
        if not text.strip() and field != "spoken_why":
            yield f"{field} is blank"
        yield from (f"{field} says {word}" for word in _NEVER if word in text.lower())
    if (row.action.strip() and not row.action[:1].isupper()) or "watch it" in row.action.lower():
        yield "the action does not start with a verb that changes something"
    if len(row.action) > _ACTION_LENGTH:
        yield f"the action is longer than {_ACTION_LENGTH} characters"
    if len(row.what) > _WHAT_LENGTH:
        yield f"what is longer than {_WHAT_LENGTH} characters"
    if row.spoken == bool(row.spoken_why.strip()):
        yield "an alarm that nobody is told needs a reason, and no other does"
    if not row.spoken and row.priority is Priority.URGENT:
        yield "urgent alarms are told"
    if not row.spoken and (row.suppresses or row.covers):
        yield "an alarm that nobody is told hides no other"
    if row.on_delay < 0 or row.off_delay < 0:
        yield "a delay is below 0"
    if row.on_delay > row.respond_within / 2:
        yield "the on-delay eats more than half of the time to respond"
    if row.remind_after <= 0 or (row.re_alarm_after is not None and row.re_alarm_after <= 0):
        yield "a reminder comes without a pause"
    if row.priority is Priority.URGENT and not row.latched:
        yield "urgent alarms latch"
