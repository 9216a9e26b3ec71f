"""The computer that streams a job slept: its lines stop in mid-job, and so does the log that it writes.

By the word of its clock a blind time was a sleep; in a log alone, both sides fall silent together and then go on. As long as
lines are sent nobody sleeps: a program goes on asking a controller that says nothing. A stream that had already stopped, was
held, or waited for an answer that may rightly take long, tells nothing of a sleep.
"""

from typing import Final

from watchdog.core.machine.draft import Draft
from watchdog.core.machine.wire import BLOCKS

_FLOWED: Final = (
    15.0  # s: a stream whose last line is older than this at the silence's start had already stopped; our choice
)
_SILENT: Final = 60.0  # s: both sides of a healthy stream are never silent for this long; our choice
_RHYTHM: Final = 3.0  # times the usual gap between lines; our choice


def woke(draft: Draft, seconds: float) -> None:
    """The computer that writes the log says that it slept for `seconds`. Call before the sight begins anew."""
    still = _still(draft)
    if still is not None:
        _mark(draft, min(still, seconds))


def line(draft: Draft) -> None:
    """A line is about to be taken in: a long silence of both sides ends with it."""
    last = _spoke(draft)
    if last is None or draft.now - last < _SILENT:
        return
    dwells = draft.stream.dwells
    if dwells is not None and draft.now - dwells[1] < _SILENT:
        return
    if draft.sight.doubt or any(line.command.code in BLOCKS for line in draft.owed):
        return
    usual = draft.beat.usual
    still = _still(draft)
    if usual is not None and still is not None and still >= max(_SILENT, _RHYTHM * usual):
        _mark(draft, still)


def _still(draft: Draft) -> float | None:
    """s since either side last spoke, where a stream was flowing until then."""
    last, sent = _spoke(draft), draft.stream.last_at
    if draft.streamed_job() is None or last is None or sent is None or draft.hold or draft.wait:
        return None
    waits = any(line.command.code in BLOCKS for line in draft.owed)
    return draft.now - last if waits or last - sent <= _FLOWED else None


def _spoke(draft: Draft) -> float | None:
    """When the machine was last heard, or a line was sent to it, questions included; None before both were."""
    heard, sent = draft.heard, draft.stream.last_at
    if heard is None or sent is None:
        return None
    last = max(heard, sent)
    return draft.owed[-1].at if draft.owed and draft.owed[-1].at > last else last


def _mark(draft: Draft, still: float) -> None:
    draft.marks = draft.marks._replace(slept_at=draft.now, slept=round(still, 3))
    draft.judge = True
