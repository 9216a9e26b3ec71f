"""What this machine's own past jobs teach: real time against planned time, robustly and bounded.

Only a job teaches that came to its end, was seen nearly all of the time and was not held long: an abandoned one says
nothing of its whole, a blind one may hide a pause, and after a long hold a machine starts cold. Waits for heat are kept
apart from work, since they depend on how warm the machine was.
"""

from dataclasses import dataclass
from math import isfinite

from watchdog.core.expectation.planned import Planned, course
from watchdog.core.snapshot import Job

KEPT = 100
"""jobs: 99 bound the next one with a chance of 99 % (n/(n+1)); older ones make room, since machines age"""
BLIND = 60.0
"""s without sight that a job may have and still teach; also 2 % of its time. Project's choice"""
HELD = 600.0
"""s held that a job may have and still teach; also a quarter of its time. Project's choice"""
SHORT = 60.0
"""s of planned work below which a ratio is mostly start-up. Project's choice"""
UNLIKE = 4.0
"""a job so many times slower or faster than its plan was another file's. Project's choice"""


@dataclass(frozen=True, slots=True)
class Past:
    """One job that came to its end."""

    real: float
    """s of work, holds and waits for heat left out"""
    heating: float
    """s of waiting for heat"""
    planned: float | None = None
    """s of work as planned; None when there was no plan"""
    planned_heating: float = 0.0
    """s of waiting for heat as planned"""
    size: int | None = None
    """bytes of its file; None for a streamed job"""


@dataclass(frozen=True, slots=True)
class History:
    """What one machine has taught, oldest first."""

    jobs: tuple[Past, ...] = ()

    @property
    def ratios(self) -> tuple[float, ...]:
        """Real over planned work."""
        return tuple(job.real / job.planned for job in self.jobs[-KEPT:] if job.planned is not None and _sound(job))

    @property
    def heat_ratios(self) -> tuple[float, ...]:
        """Real over planned waiting for heat, of the jobs that planned for any."""
        return tuple(
            job.heating / job.planned_heating for job in self.jobs[-KEPT:] if job.planned_heating >= 1 and _sound(job)
        )

    def same_size(self, size: int | None) -> tuple[float, ...]:
        """s that jobs of just this size took, waits for heat included: mostly the same file again."""
        if size is None:
            return ()
        return tuple(job.real + job.heating for job in self.jobs[-KEPT:] if job.size == size and _sound(job))


def remember(history: History, past: Past) -> History:
    """The history with one more job; the oldest makes room."""
    return History((*history.jobs, past)[-KEPT:]) if _sound(past) else history


def refusal(job: Job, plan: Planned | None, blind: float = 0.0) -> str | None:
    """Why this job teaches nothing; None when it does. `blind`: s of it that nobody saw."""
    if job.ended is None or job.ending != "completed":
        return "not completed"
    real = job.ended - job.started - job.held - job.heating
    if not real > 0:
        return "no time of its own"
    if blind > max(BLIND, 0.02 * real):
        return "not seen"
    if job.held > max(HELD, 0.25 * real):
        return "held long"
    if plan is None:
        return None
    work = course(plan).work
    if work < SHORT:
        return "short"
    return None if 1 / UNLIKE < real / work < UNLIKE else "unlike its plan"


def learn(history: History, job: Job, plan: Planned | None, blind: float = 0.0) -> History:
    """The history after `job` has ended; unchanged when it teaches nothing (`refusal` tells why)."""
    if job.ended is None or refusal(job, plan, blind) is not None:
        return history
    real = job.ended - job.started - job.held - job.heating
    if plan is None:
        return remember(history, Past(real, job.heating, size=job.size))
    whole = course(plan)
    return remember(history, Past(real, job.heating, whole.work, whole.heat, job.size))


def _sound(past: Past) -> bool:
    """A kept history may have been edited or damaged: what is no duration does not count."""
    spans = (past.real, past.heating, past.planned_heating, 1.0 if past.planned is None else past.planned)
    return all(isfinite(span) and span >= 0 for span in spans) and past.real > 0 and spans[-1] > 0
