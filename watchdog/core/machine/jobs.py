"""A job's life: started, held, resumed, and exactly one end before the next one starts."""

from dataclasses import replace

from watchdog.core.effects import JobChanged
from watchdog.core.machine.draft import Draft
from watchdog.core.machine.memory import Chosen, Marks, Progress, Stream
from watchdog.core.moment import Moment
from watchdog.core.snapshot import Execution, Job, Origin


def start(draft: Draft, origin: Origin, since: Moment, chosen: Chosen | None = None, done: int | None = None) -> Job:
    """A new job. One that still ran has been left for it."""
    if draft.running() is not None:
        finish(draft, "abandoned", "left for another")
    last = draft.job
    job = Job(
        number=1 if last is None else last.number + 1,
        origin=origin,
        file=None if chosen is None else chosen.name,
        size=None if chosen is None else chosen.size,
        started=since.elapsed,
        started_stamp=since.stamp,
    )
    draft.job = job
    draft.progress = Progress(done)
    draft.hold = draft.wait = draft.chosen = None
    draft.marks, draft.faults = Marks(), ()
    draft.card = draft.card._replace(go=False, idles=0, inner=False)
    draft.sight = draft.sight._replace(known=True, doubt=False)
    say(draft, job, "started")
    return job


def finish(draft: Draft, ending: str, why: str | None, rest: Execution | None = None) -> None:
    """The job that runs, if one does, has ended: 'completed', 'abandoned', 'halted' or 'lost'."""
    job = draft.running()
    if job is None:
        return
    held = job.held if job.held_since is None else job.held + max(0.0, draft.now - job.held_since)
    draft.job = job = replace(job, ended=draft.now, ending=ending, held=held, held_since=None, running=False)
    draft.hold = draft.wait = None
    draft.stream = Stream(draft.stream.top, draft.stream.numbered)
    draft.sight = draft.sight._replace(known=draft.sight.known or ending != "lost", doubt=False)
    if rest is None:
        rest = {"completed": Execution.COMPLETE, "abandoned": Execution.STOPPED}.get(ending, Execution.READY)
    draft.axes = draft.axes._replace(rest=rest)
    say(draft, job, "completed" if ending == "completed" else "abandoned", why)


def complete(draft: Draft) -> None:
    """The job has come to its end."""
    finish(draft, "completed", None)


def abandon(draft: Draft, why: str) -> None:
    """Somebody or something ended the job early."""
    finish(draft, "abandoned", why)


def lose(draft: Draft) -> None:
    """The job ended while nobody saw how."""
    finish(draft, "lost", "lost")


def trust(draft: Draft) -> None:
    """It is the same job as before the watch was blind."""
    if draft.sight.doubt:
        draft.sight = draft.sight._replace(doubt=False, known=True)


def built(draft: Draft) -> None:
    """Material flows in the present job."""
    job = draft.running()
    if job is not None and job.building_since is None:
        draft.job = replace(job, building_since=draft.now)


def reconcile(draft: Draft) -> None:
    """Bring the job's held time in line with what holds it."""
    job = draft.running()
    if job is None or draft.sight.doubt:
        return
    if draft.hold is None and draft.wait is None and job.held_since is None:
        return
    since = [part.since for part in (draft.hold, draft.wait) if part is not None]
    if since and job.held_since is None:
        draft.job = job = replace(job, held_since=max(job.started, min(since)))
        say(draft, job, "held", "by command" if draft.wait is None else "waits for somebody")
    elif not since and job.held_since is not None:
        draft.job = job = replace(job, held=job.held + max(0.0, draft.now - job.held_since), held_since=None)
        say(draft, job, "resumed")


def say(draft: Draft, job: Job, event: str, why: str | None = None) -> None:
    """Tell the record what happened to `job`."""
    elapsed = max(0.0, draft.now - job.started)
    draft.effects.append(JobChanged(draft.at, event, job.number, job.file, job.size, job.origin.value, elapsed, why))
