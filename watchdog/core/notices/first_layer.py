"""The first layer is about to be done: have a look.

The commonest failure, a first layer that lets go, cannot be seen on the wire; a person sees it in a second. Told once a job,
when the job's plan says that the second layer begins, and not when that was long ago (a watch that started in the middle).
"""

from typing import NamedTuple

from watchdog.core.effects import Tell
from watchdog.core.moment import Moment
from watchdog.core.notices.notice import FIRST_LAYER, notice
from watchdog.core.plan import Plan
from watchdog.core.snapshot import Execution, Snapshot

LEAD = 0.0
"""s before the layer's planned end. A card is read a few seconds ahead of the nozzle, so nothing more is needed; our choice"""
TOO_LATE = 300.0
"""s past the end after which a look is worth little: the layers above hide it; our choice, no source"""


class Memory(NamedTuple):
    """The last job of which it was told, or for which it was too late."""

    job: int | None = None


def look(
    memory: Memory, seen: Snapshot, plan: Plan | None, done: float | None, at: Moment
) -> tuple[Memory, Tell | None]:
    """`plan` of the present job; `done`: planned s of work behind it. None: not known, nothing is told."""
    job = seen.job
    if job is None or job.ended is not None or memory.job == job.number or plan is None or done is None:
        return memory, None
    if plan.first_layer_end is None or seen.execution is not Execution.BUILDING:
        return memory, None
    past = done - (plan.seconds_at(plan.first_layer_end) - LEAD)
    if past < 0:
        return memory, None
    memory = Memory(job.number)
    if past > TOO_LATE:
        return memory, None
    return memory, notice(FIRST_LAYER, at, job.number, {"job": job.number, "layers": len(plan.layers)})
