"""What the controller says of itself: it was reset, or something is wrong."""

from watchdog.core.effects import Noted
from watchdog.core.machine import feed, jobs, people
from watchdog.core.machine.draft import Draft
from watchdog.core.machine.heat import blanked, last_hot
from watchdog.core.machine.memory import Card, Restart, Stream, Trend
from watchdog.core.observations import Fault, FaultKind, ResetCause, Started
from watchdog.core.snapshot import Execution

_ENDS_ALL = frozenset({FaultKind.HALT, FaultKind.STOPPED, FaultKind.LOCKED})
_KEPT = 32  # faults: a card error repeats in a loop
_SAME_RESET = 10.0  # s: some print their banner twice; our choice


def started(draft: Draft, _seen: Started) -> None:
    """The start-up banner: any job is lost, the heaters are off, nothing is owed any more."""
    now, before = draft.now, draft.restart
    # After a halt there was nothing left to break: the job had ended, the heaters were off, and people had been told.
    halted = any(fault.halted or fault.kind in _ENDS_ALL for _, fault in draft.faults)
    broke = last_hot(draft.limits, draft) and not halted
    if before.at is not None and now - before.at < _SAME_RESET:
        broke = broke or before.broke
    still_hot = draft.nozzle.now is not None and draft.nozzle.now >= draft.limits.melts_at
    jobs.finish(draft, "abandoned", "restarted", Execution.READY)
    draft.restart = Restart(now, None, broke)
    draft.nozzle, draft.bed = blanked(draft.nozzle), blanked(draft.bed)
    draft.nozzle_trend = draft.bed_trend = Trend()
    draft.hot_before, draft.sensor_bad = still_hot, False
    draft.owed, draft.paid_at, draft.warming_at = (), None, None
    draft.hold = draft.wait = draft.chosen = None
    draft.card, draft.faults = Card(closed=True), ()
    draft.stream = Stream(numbered=draft.stream.numbered)
    draft.feed = feed.restarted(draft.feed)
    draft.sight = draft.sight._replace(known=True, doubt=False)
    draft.axes = draft.axes._replace(rest=Execution.READY)
    draft.effects.append(Noted(draft.at, "restart", {"job_or_heat": "yes" if broke else "no"}))
    draft.judge = True


def reset_cause(draft: Draft, seen: ResetCause) -> None:
    """Why it was reset."""
    draft.restart = draft.restart._replace(cause=seen.cause)
    draft.effects.append(Noted(draft.at, "restart", {"cause": seen.cause}))
    draft.judge = True


def fault(draft: Draft, seen: Fault) -> None:
    """Something is wrong. Only what ends all commands or all heat ends the job."""
    draft.judge = True
    if seen.halted or seen.kind in _ENDS_ALL:
        jobs.finish(draft, "halted", "halted", Execution.FAULTED)
        draft.hold = draft.wait = None
        draft.sight = draft.sight._replace(known=True, doubt=False)
        draft.axes = draft.axes._replace(rest=Execution.FAULTED)
    elif seen.kind is FaultKind.CARD_GONE:
        if draft.card_job() is not None:
            draft.marks = draft.marks._replace(card_gone_at=draft.now)
    elif seen.kind is FaultKind.CARD_OPEN:
        draft.chosen = None
    elif seen.kind in (FaultKind.FILAMENT_OUT, FaultKind.FILAMENT_JAM) and draft.running() is not None:
        people.wait(draft, "filament", planned=False)
    if seen.kind in _ENDS_ALL and any(seen == before for _, before in draft.faults):
        return  # some say it again at every question: that must not push the cause out of what is kept
    draft.faults = (*draft.faults[1 - _KEPT :], (draft.now, seen))
