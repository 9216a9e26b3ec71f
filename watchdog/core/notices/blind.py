"""The watch saw nothing for a while: from when to when, and what the machine did meanwhile as far as that can be told."""

from watchdog.core.effects import Tell
from watchdog.core.finding import Evidence
from watchdog.core.moment import Moment
from watchdog.core.notices.notice import WAS_BLIND, notice
from watchdog.core.snapshot import Job, Link, Snapshot

WORTH_TELLING = 60.0
"""s: a shorter gap is noted in the log alone; our choice"""


def look(before: Snapshot, after: Snapshot, blind: float, count: int, at: Moment) -> Tell | None:
    """The notice, once the machine has been heard again; None when the time was too short to be told of.

    `before`: what was last known when the watch went blind. `blind`: s. `count` numbers the blind times.
    """
    if blind < WORTH_TELLING:
        return None
    since = Moment(stamp=at.stamp - blind, elapsed=at.elapsed - blind)
    facts: Evidence = {"blind_s": round(blind), **_meanwhile(before, after)}
    return notice(WAS_BLIND, at, count, facts, since=since)


def _meanwhile(before: Snapshot, after: Snapshot) -> Evidence:
    """One word for the machine's deed, and its numbers. Blindness is never told as 'all well'."""
    facts: dict[str, float | int | str | None] = {"nozzle_before": before.nozzle.now, "nozzle_now": after.nozzle.now}
    if after.link is not Link.AVAILABLE:
        return facts | {"meanwhile": "not-known"}
    was, now = _running(before), _running(after)
    if after.restarted_at is not None and (before.restarted_at is None or after.restarted_at > before.restarted_at):
        return facts | {"meanwhile": "restarted"}
    if was is None and now is None:
        ended = after.job is not None and (before.job is None or before.job.number != after.job.number)
        return facts | {"meanwhile": "job-came-and-went" if ended else "idle"}
    if was is None:
        return facts | {"meanwhile": "job-began"}
    if now is None:
        return facts | {"meanwhile": "job-ended"}
    if was.number != now.number:
        return facts | {"meanwhile": "other-job"}
    moved = None if was.progress is None or now.progress is None else now.progress - was.progress
    return facts | {"meanwhile": "not-known" if moved is None else "job-moved" if moved > 0 else "job-stood"}


def _running(seen: Snapshot) -> Job | None:
    return seen.job if seen.job is not None and seen.job.ended is None else None
