"""Words to and about people: held, resumed, cancelled, and the machine that waits for somebody."""

from watchdog.core.machine import jobs
from watchdog.core.machine.draft import Draft
from watchdog.core.machine.memory import Hold, Wait
from watchdog.core.observations import Action, Busy, Waiting

_ON_ITS_WAY = 15.0  # s: lines that were sent before the word to halt was read; our choice
_NO_PLAN = ("filament_runout", "filamentrunout", "out_of_filament", "jam")


def wait(draft: Draft, by: str, *, planned: bool) -> None:
    """The machine waits for somebody, or says so again."""
    old = draft.wait
    if old is None:
        draft.wait = Wait(draft.now, planned and not draft.filament_trouble(), by, draft.now)
    else:
        draft.wait = Wait(old.since, old.planned and planned, by, draft.now, old.settled)


def hold(draft: Draft, by: str = "word") -> None:
    """The job, if one runs, is held by command."""
    if draft.hold is None and draft.running() is not None:
        draft.hold = Hold(draft.now, by)


def go_on(draft: Draft) -> None:
    """Neither held nor waiting any more."""
    draft.hold = draft.wait = None


def laid(draft: Draft) -> None:
    """A stream laid plastic: the word that it goes on was lost. What was on its way when it halted lays some too."""
    for halting in (draft.hold, draft.wait):
        if halting is not None and draft.now - halting.since <= _ON_ITS_WAY:
            return
    draft.hold = draft.wait = None


def busy(draft: Draft, seen: Busy) -> None:
    """The machine lives and does not take commands now."""
    draft.paid_at = draft.now
    if seen.reason == "heating":
        draft.warming_at = draft.now
    elif seen.reason in ("person", "input"):
        wait(draft, "busy", planned=True)
    elif seen.reason == "door":
        wait(draft, "busy", planned=False)


def waiting(draft: Draft, _seen: Waiting) -> None:
    """Somebody is asked to do something."""
    wait(draft, "words", planned=True)


def action(draft: Draft, seen: Action) -> None:
    """A word to the host."""
    word, argument = seen.word, seen.argument.lower()
    unplanned = any(words in argument for words in _NO_PLAN)
    if word in ("paused", "pause"):
        if unplanned:
            wait(draft, "filament", planned=False)
        else:
            hold(draft)
    elif word in ("resumed", "resume"):
        go_on(draft)
    elif word == "cancel":
        jobs.abandon(draft, "stopped")
    elif word == "prompt_begin":
        wait(draft, "prompt", planned=not unplanned)
    elif word == "prompt_end":
        if draft.wait is not None and draft.wait.by == "prompt":
            draft.wait = None
    elif word in ("filament_runout", "out_of_filament"):
        wait(draft, "filament", planned=False)


def faded(draft: Draft) -> None:
    """A wait that was told by keep-alives ends when they stop; an idle machine's request is not believed for ever."""
    told = draft.wait
    if told is None or draft.heard is None or draft.sight.doubt:
        return
    silent = draft.now - told.told_at
    if (told.by == "busy" and silent > draft.limits.word_gone and draft.heard > told.told_at) or (
        draft.running() is None and silent > draft.limits.wait_forgotten
    ):
        draft.wait = None
