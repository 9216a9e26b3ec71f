"""What is usual for one machine, learnt from its own healthy jobs: how it warms up, holds its heat, answers and moves on.

Only a card or streamed job teaches that was completed, in which the machine reported no fault and nobody was waited for. At its
end each subject becomes one value (`core.lesson`). The last `KEPT` jobs make the habit: their median, and their spread by the
MAD, so that one odd job moves nothing. A fault that grows slowly is not learnt as usual: see `core.anchors`. All plain
values: they can be stored, shown, and forgotten by starting again with `Habits()`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from statistics import median
from typing import Final, NamedTuple

from watchdog.core import lesson, melt
from watchdog.core.anchors import Anchor, held_to, moved_on
from watchdog.core.lesson import MINUTE, Running
from watchdog.core.sight import blind
from watchdog.core.snapshot import Job, Snapshot, Usual
from watchdog.core.warming import Climb, followed
from watchdog.statistics.robust import sigma

KEPT: Final = 50
"""jobs: a term's; older ones make room, since machines age. Project's choice"""
LEAST: Final = 5
"""jobs before anything is called a habit. Project's choice"""

SUBJECTS: Final[Mapping[str, str]] = {
    "heating-rate": "°C/s, from 50 to 10 °C below the target",
    "holding-duty": "% of the highest power",
    "reading-noise": "°C between two readings",
    "unanswered": "s, longest in a job",
    "progress-gap": "s, longest in a job",
    "flow": "mm/s of filament, by the plan",
    "flow-power": "/°C, power as printed at that flow, for each °C above 22",
    "flow-noise": "/°C, how that power differs from minute to minute",
    "melt-share": "s/mm, share of the power that each mm/s takes",
}
"""What is learnt, with its unit. The last one comes of flow and power together."""
_WANDERS: Final = frozenset({"flow", "melt-share"})  # as the job files do, not as the machine ages


@dataclass(frozen=True, slots=True)
class Habits:
    """What one machine has taught so far."""

    jobs: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    """one value a job, by subject, oldest first"""
    running: Running | None = None
    climb: Climb = ()
    """the nozzle's last warm-up, in a job or before it"""
    rates: tuple[float, ...] = ()
    """°C/s of warm-ups that the next completed job will vouch for"""
    anchors: Mapping[str, Anchor] = field(default_factory=dict)
    shown: Mapping[str, Usual] = field(default_factory=dict)
    """what is usual, for the snapshot: made anew when a job has taught"""


class Habit(NamedTuple):
    """What is usual."""

    subject: str
    unit: str
    usual: float
    spread: float
    """standard deviation of the undisturbed part"""
    jobs: int


def usual(habits: Habits) -> tuple[Habit, ...]:
    """Each subject that enough jobs have taught."""
    shown = habits.shown or _shown(habits)
    return tuple(
        Habit(subject, unit, shown[subject].middle, shown[subject].spread, shown[subject].jobs)
        for subject, unit in SUBJECTS.items()
        if subject in shown
    )


def observe(habits: Habits, seen: Snapshot) -> Habits:
    """`habits` after one look, once a second. Ask only with the consent of whoever runs the machine."""
    habits = _warming(habits, seen)
    job, running = seen.job, habits.running
    if job is None or (running is not None and running.number != job.number):
        return habits if running is None else replace(habits, running=None)
    if job.ended is not None:
        return habits if running is None else _taught(habits, running, job)
    if running is None:
        if job.progress and job.moved_at is not None and seen.at - job.started > MINUTE:
            return habits  # met in its middle
        running = Running(job.number)
        if habits.jobs and not habits.shown:
            habits = replace(habits, shown=_shown(habits))  # kept by an earlier version
    if not running.spoilt and (seen.faults or seen.waits_for_person or job.held > 0 or job.held_since is not None):
        running = Running(job.number, spoilt=True)
    if running.spoilt or blind(seen):
        return habits if running is habits.running else replace(habits, running=running)
    after = lesson.followed(running, job, seen)
    return habits if after is habits.running else replace(habits, running=after)


def _warming(habits: Habits, seen: Snapshot) -> Habits:
    climb, rate = followed(habits.climb, seen.nozzle)
    if rate is not None and not seen.faults:
        return replace(habits, climb=climb, rates=(*habits.rates, round(rate, 6))[-4:])
    return habits if climb is habits.climb else replace(habits, climb=climb)


def _taught(habits: Habits, running: Running, job: Job) -> Habits:
    if running.spoilt or job.ending != "completed":
        return replace(habits, running=None, rates=())
    kept, values = dict(habits.jobs), lesson.said(running)
    if habits.rates:
        values["heating-rate"] = median(habits.rates)
    for subject, value in values.items():
        kept[subject] = (*kept.get(subject, ()), round(value, 6))[-KEPT:]
    taught = replace(habits, jobs=kept, running=None, rates=())
    middles = {subject: found.middle for subject, found in _measured(kept).items() if subject not in _WANDERS}
    taught = replace(taught, anchors=moved_on(habits.anchors, middles, KEPT))
    return replace(taught, shown=_shown(taught))


def _measured(jobs: Mapping[str, tuple[float, ...]]) -> dict[str, Usual]:
    """What the jobs show, whatever was usual before."""
    found = {
        subject: Usual(median(values), sigma(values), len(values), max(values))
        for subject, values in jobs.items()
        if len(values) >= LEAST
    }
    if "flow-power" in found and "flow" in found:
        powers, flows = jobs["flow-power"], jobs["flow"]
        level, spread, share = melt.relation(powers, flows)
        found["flow-power"] = Usual(level, spread, len(powers), None)
        found["melt-share"] = Usual(share, 0.0, len(powers), None)
    return found


def _shown(habits: Habits) -> dict[str, Usual]:
    return {
        subject: told._replace(middle=held_to(habits.anchors.get(subject), told.middle))
        for subject, told in _measured(habits.jobs).items()
    }
