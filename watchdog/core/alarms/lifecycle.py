"""The life of one alarm (after ANSI/ISA-18.2, IEC 62682): one look at its condition moves it one step.

The paths, as we have chosen them where the standard leaves a choice:

    from                    when                                     to               recorded                  told
    normal                  condition present                        maturing         -                         -
    maturing                absent                                   normal           -                         -
    maturing                present for on_delay, unbroken           unacknowledged   raised                    alarm
    unacknowledged          its reminder is due                      unacknowledged   -                         reminder
    unacknowledged          a person acknowledges                    acknowledged     acknowledged              -
    unacknowledged          absent for off_delay, not latched        normal           returned, cleared         all-clear
    unacknowledged          absent for off_delay, latched            returned         returned                  all-clear
    acknowledged            absent for off_delay, latched or not     normal           returned, cleared         all-clear
    acknowledged            re_alarm_after is over (off by default)  unacknowledged   noted                     reminder
    returned                a person acknowledges                    normal           acknowledged, cleared     -
    returned                present for on_delay                     unacknowledged   noted (same occurrence)   reminder
    unack. or acknowledged  the finding says urgent                  unacknowledged   escalated                 escalated

- An urgent alarm that grows from one which people were told of is raised as ever, and said as 'escalated' (`Alarm.grows_from`).
- 'Cannot tell' stops the delays where they are and changes nothing else; reminders go on.
- Urgent alarms latch, also those that a finding lifted. An occurrence never comes down from urgent.
- All-clear: one, and only if this occurrence had been told to anybody.
- Suppressed or shelved: evaluated as ever, told to nobody. Not raised yet: it stays maturing (`held_back`, noted at both ends)
  and is raised when the silence ends and the condition is still seen. Raised before: it stands, returns and clears without a
  word; an overdue reminder follows when the silence ends. Urgent alarms are never suppressed.
- A shelf ends by itself (24 h at most; 1 h for an urgent alarm, which a person may silence while at work on it). An alarm
  that becomes urgent leaves its shelf. After a shelf a present condition is told as if new: raised, or if it had been
  raised before, unacknowledged again with a fresh rhythm of reminders.
- Chatter: the third raising within 10 min is told with evidence `returns` (how often). While the burst lasts (never 10 min
  without a raising) further ones are recorded only, and told once an hour; one that stays as long as `remind_after` is told
  then. Urgent alarms are always told.
"""

from dataclasses import replace

from watchdog.core.alarms.alarm import Alarm
from watchdog.core.alarms.standing import Phase, Standing, announced, over, quiet
from watchdog.core.alarms.telling import TO_ACKNOWLEDGE, burst, changed, next_gap, noted, tell
from watchdog.core.effects import Effect, Priority, TellKind, Transition
from watchdog.core.finding import Finding
from watchdog.core.moment import Moment

Step = tuple[Standing, tuple[Effect, ...]]


def advance(
    row: Alarm, before: Standing, finding: Finding, suppressed_by: str | None, at: Moment, *, grown: bool = False
) -> Step:
    """One look: the alarm after it, and what is to be recorded and told.

    `suppressed_by` names a standing alarm that this one only follows; None when there is none. `grown`: an alarm that people
    were told of stands, and this one is the same incident grown.
    """
    urgent = before.priority is Priority.URGENT or row.priority is Priority.URGENT
    lifted = not urgent and finding.present is True and finding.urgent
    standing = _seen(before, finding, None if urgent or lifted else suppressed_by, at)
    standing, said = _shelf_over(row, standing, lifted, at)
    if announced(standing):
        standing, more = _while_announced(row, standing, finding.present, lifted, at)
    else:
        standing, more = _while_not(row, standing, finding.present, lifted, grown and (urgent or lifted), at)
    return standing, said + more


def _seen(standing: Standing, finding: Finding, suppressed_by: str | None, at: Moment) -> Standing:
    """The memory with the finding entered; `held` runs while the finding contradicts the phase."""
    present = finding.present
    held, counted_at = standing.held, standing.counted_at
    if present is None:
        counted_at = None
    elif present is announced(standing):
        held, counted_at = 0.0, None
    else:
        held += 0.0 if counted_at is None else max(0.0, at.elapsed - counted_at)
        counted_at = at.elapsed
    return replace(
        standing,
        condition=standing.condition if present is None else present,
        since=None if present is False else standing.since or (at if present else None),
        held=held,
        counted_at=counted_at,
        evidence=finding.evidence if present else standing.evidence,
        suppressed_by=suppressed_by,
    )


# ---------------------------------------------------------------- not raised, or returned and not acknowledged


def _while_not(row: Alarm, standing: Standing, present: bool | None, lifted: bool, grown: bool, at: Moment) -> Step:
    if present is None:
        return standing, ()
    if not present:
        said = (noted("held-back-ended", row, standing, at),) if standing.held_back else ()
        phase = Phase.RETURNED if standing.phase is Phase.RETURNED else Phase.NORMAL
        return replace(standing, phase=phase, held=0.0, counted_at=None, held_back=False), said
    if standing.phase is Phase.NORMAL:
        standing = replace(standing, phase=Phase.MATURING)
    if standing.held < row.on_delay:
        return standing, ()
    if quiet(standing):
        if standing.held_back:
            return standing, ()
        return replace(standing, held_back=True), (noted("held-back", row, standing, at),)
    return _raised(row, standing, lifted, grown, at)


def _raised(row: Alarm, standing: Standing, lifted: bool, grown: bool, at: Moment) -> Step:
    change: Effect
    again = standing.phase is Phase.RETURNED
    standing = replace(standing, phase=Phase.UNACKNOWLEDGED, held=0.0, counted_at=None, held_back=False, gap=None)
    if not again:
        priority = Priority.URGENT if lifted else row.priority
        standing = replace(standing, occurrence=standing.occurrence + 1, raised=at, priority=priority, told=0)
        change = changed(Transition.RAISED, row, standing, at)
        kind = TellKind.ESCALATED if grown else TellKind.ALARM
    elif lifted:
        standing = replace(standing, priority=Priority.URGENT)
        change, kind = changed(Transition.ESCALATED, row, standing, at), TellKind.ESCALATED
    else:
        change = noted("came-back", row, standing, at)
        kind = TellKind.REMINDER if standing.told else TellKind.ALARM
    standing, news = burst(standing, at.elapsed)
    if news or standing.priority is Priority.URGENT:
        standing, message = tell(row, standing, kind, at)
        return standing, (change, message)
    gap = next_gap(row, standing)
    return replace(standing, gap=gap, due=at.elapsed + gap), (change,)


# ---------------------------------------------------------------- raised


def _while_announced(row: Alarm, standing: Standing, present: bool | None, lifted: bool, at: Moment) -> Step:
    if present is False and standing.held >= row.off_delay:
        return _returned(row, standing, at)
    if lifted:
        standing = replace(_as_if_new(standing, at), priority=Priority.URGENT)
        standing, message = tell(row, standing, TellKind.ESCALATED, at)
        return standing, (changed(Transition.ESCALATED, row, standing, at), message)
    said: tuple[Effect, ...] = ()
    if standing.condition is False:  # its off-delay runs: perhaps there is nothing left to remind of
        return standing, said
    taken, patience = standing.acknowledged, row.re_alarm_after
    if taken is not None and patience is not None and at.elapsed - taken.at.elapsed >= patience:
        standing = _as_if_new(standing, at)
        said = (noted("told-again", row, standing, at),)
    if standing.due is not None and at.elapsed >= standing.due and not quiet(standing):
        standing, message = tell(row, standing, TellKind.REMINDER if standing.told else TellKind.ALARM, at)
        said = (*said, message)
    return standing, said


def _as_if_new(standing: Standing, at: Moment) -> Standing:
    """Nobody has it in hand any more: due now, and the rhythm starts again."""
    return replace(standing, phase=Phase.UNACKNOWLEDGED, acknowledged=None, due=at.elapsed, gap=None)


def _returned(row: Alarm, standing: Standing, at: Moment) -> Step:
    said: list[Effect] = [changed(Transition.RETURNED, row, standing, at)]
    latched = row.latched or standing.priority is Priority.URGENT
    cleared = standing.phase is Phase.ACKNOWLEDGED or not latched
    if cleared:
        said.append(changed(Transition.CLEARED, row, standing, at))
    standing = replace(standing, held=0.0, counted_at=None, due=None, gap=None)
    if standing.told and not quiet(standing):
        standing, message = tell(row, standing, TellKind.ALL_CLEAR, at)
        if not cleared:  # latched: it has gone, and somebody must still say that they have seen it
            message = message._replace(evidence={**message.evidence, TO_ACKNOWLEDGE: 1})
        said.append(message)
    return over(standing) if cleared else replace(standing, phase=Phase.RETURNED), tuple(said)


# ---------------------------------------------------------------- shelves


def _shelf_over(row: Alarm, standing: Standing, lifted: bool, at: Moment) -> Step:
    """Take it from its shelf when the time is up, or when it becomes urgent: that was not what a person silenced."""
    if standing.shelf is not None and (lifted or at.elapsed >= standing.shelf.until):
        return unshelved(row, standing, at, None, "has become urgent" if lifted else "its time is over")
    return standing, ()


def unshelved(row: Alarm, standing: Standing, at: Moment, by: str | None, note: str | None) -> Step:
    """Off the shelf. The next look tells it as if new where its condition is present."""
    standing = replace(standing, shelf=None)
    change = changed(Transition.UNSHELVED, row, standing, at)._replace(by=by, note=note)
    if announced(standing) and standing.condition is not False:
        standing = _as_if_new(standing, at)
    return standing, (change,)
