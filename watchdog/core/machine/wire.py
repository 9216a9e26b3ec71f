"""The wire: when the machine was heard, what it still owes, and how long it usually keeps quiet.

A line that was sent owes an answer and `ok` pays it, oldest first. Keep-alives and temperature reports show that the
machine lives: they put off the reproach, they pay nothing, since the `ok` of a long command is still to come. A line that
the machine asks for again was never taken, nor were those behind it.
"""

from watchdog.core.commands import Sent
from watchdog.core.effects import Noted, StateChanged
from watchdog.core.machine import stream
from watchdog.core.machine.draft import Draft
from watchdog.core.machine.heat import WAITS_FOR_HEAT, blanked, last_hot
from watchdog.core.machine.limits import Limits
from watchdog.core.machine.memory import Beat, Card, Memory, Trend
from watchdog.core.observations import Acknowledged, Idle, LinkDown, LinkUp, Resend
from watchdog.core.snapshot import Execution, Link

BLOCKS = WAITS_FOR_HEAT | {
    "G4", "G28", "G29", "G30", "G33", "G34", "G76", "M0", "M1", "M48", "M226", "M303", "M400", "M600", "M601", "M701", "M702",
    "T",
}  # fmt: skip
"""Codes that may rightly keep a machine silent for long."""
_MINUTE = 60.0  # s
_REMEMBERED = 10  # such minutes: jobs change their pace within a lesson


def hear(draft: Draft) -> None:
    """The machine said something, whatever it was."""
    now, last = draft.now, draft.heard
    if draft.sight.link is not Link.AVAILABLE:
        _see(draft, Link.AVAILABLE, None)
    elif last is not None and last >= draft.sight.since:
        gap, beat, owed = now - last, draft.beat, draft.owed
        owing = min(gap, now - owed[0].at) if owed else None
        if owing is not None and (beat.owing is None or owing > beat.owing):
            draft.beat = beat = beat._replace(owing=owing)
        # A gap over an unanswered line is no habit of a machine that is well.
        if gap > beat.longest and (not owed or now - owed[0].at <= draft.limits.answer_within):
            draft.beat = beat = beat._replace(longest=gap)
        if now - beat.since >= _MINUTE:
            past = (*beat.past[1 - _REMEMBERED :], beat.longest)
            draft.beat = Beat(now, 0.0, past, sorted(past)[-2] if len(past) > 1 else past[0], owing)
    draft.heard = now


def acknowledged(draft: Draft, seen: Acknowledged) -> None:
    """One line was taken, or every line up to the number that the machine tells."""
    owed = draft.owed
    if not owed:
        return
    count = 1
    if seen.line is not None:
        count = max((nth for nth, line in enumerate(owed, 1) if line.command.number == seen.line), default=1)
    draft.owed = owed[count:]
    for line in owed[:count]:
        if line.fresh:
            stream.taken(draft, line.command)


def idle(draft: Draft, _seen: Idle) -> None:
    """The receiver has nothing left: what was sent a while ago has been taken, its `ok` was lost."""
    settled = tuple(line for line in draft.owed if draft.now - line.at > 1.0)
    if settled:
        draft.owed = draft.owed[len(settled) :]
        for line in settled:
            if line.fresh:
                stream.taken(draft, line.command)


def resend(draft: Draft, seen: Resend) -> None:
    """The machine refused this line and those behind it. It asks once more for each that was on its way: that is one error."""
    if seen.line != draft.marks.asked:
        draft.resends += 1
        draft.marks = draft.marks._replace(asked=seen.line)
    draft.owed = ()
    top = draft.stream.top
    if top is not None and top >= seen.line:
        draft.stream = draft.stream._replace(top=seen.line - 1)


def link_up(draft: Draft, _seen: LinkUp) -> None:
    """The port was opened: whatever happened before is not known."""
    _see(draft, Link.AVAILABLE, None)


def link_down(draft: Draft, seen: LinkDown) -> None:
    """The port is gone. What was known is no longer."""
    _see(draft, Link.UNAVAILABLE, seen.why)


def _see(draft: Draft, link: Link, why: str | None) -> None:
    draft.judge = True
    before = draft.sight.link
    go_blind(draft)
    if link is not before:
        draft.sight = draft.sight._replace(link=link, link_since=draft.now)
        draft.effects.append(StateChanged(draft.at, "link", before.value, link.value))
        if why:
            draft.effects.append(Noted(draft.at, "link", {"link": link.value, "why": why}))


def go_blind(draft: Draft) -> None:
    """Sight begins anew: nothing that was told before is taken for the present."""
    draft.hot_before = last_hot(draft.limits, draft)
    draft.nozzle, draft.bed = blanked(draft.nozzle), blanked(draft.bed)
    draft.nozzle_trend = draft.bed_trend = Trend()
    draft.warming_at = draft.paid_at = None
    draft.sensor_bad = False
    draft.owed = ()
    draft.sent = Sent()
    draft.chosen = None
    draft.axes = draft.axes._replace(rest=Execution.READY)
    doubt = draft.running() is not None
    if not doubt:
        draft.card, draft.wait = Card(), None
    draft.stream = draft.stream._replace(first=None)
    draft.sight = draft.sight._replace(since=draft.now, known=False, doubt=doubt)


def owed_since(memory: Memory) -> float | None:
    """When the oldest unanswered line was sent, or the machine last showed that it lives, if that was later."""
    if not memory.owed:
        return None
    sent = memory.owed[0].at
    return sent if memory.paid_at is None or memory.paid_at < sent else memory.paid_at


def unanswered(limits: Limits, memory: Memory, now: float) -> int:
    """Queries in a row that were sent since the machine was last heard and brought nothing in their time."""
    heard = memory.heard
    return sum(
        1
        for line in memory.owed
        if (heard is None or line.at >= heard)
        and now - line.at > limits.answer_within
        and line.command.code in stream.QUERIES
    )


def blocking_since(memory: Memory) -> float | None:
    """When the oldest command was sent that may keep the machine silent and is not acknowledged."""
    return next((line.at for line in memory.owed if line.command.code in BLOCKS), None)
