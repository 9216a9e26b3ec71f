"""What is usual for one machine, learnt from its own healthy jobs: how it warms up, holds its heat, answers and moves on.

Only a card or streamed job teaches that was completed, in which the machine reported no fault and nobody was waited for. While
it runs its minutes are kept apart; at its end each subject becomes one value, the median of its minutes. The last
`KEPT` jobs make the habit: their median, and their spread by the MAD, so that one odd job moves nothing. All plain values:
they can be stored, shown, and forgotten by starting again with `Habits()`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from statistics import median
from typing import Final, NamedTuple

from watchdog.core.sight import blind
from watchdog.core.snapshot import Heater, Job, Snapshot
from watchdog.statistics.robust import sigma

KEPT: Final = 50
"""jobs: a term's; older ones make room, since machines age. Project's choice"""
LEAST: Final = 5
"""jobs before anything is called a habit. Project's choice"""
_MINUTES: Final = 240  # of one job; when they are full every second one makes room
_MINUTE: Final = 60.0  # s
_CLOSE: Final = 3.0  # °C from the target counts as held; our choice
_FAR: Final = 40.0  # °C below the target from which a warm-up is timed; our choice
_NEAR: Final = 10.0  # °C below the target to which it is timed: nearer the control eases off; our choice
_LONGEST_WARM: Final = 900.0  # s: a warm-up that takes longer was interrupted; our choice

SUBJECTS: Final[Mapping[str, str]] = {
    "heating-rate": "°C/s",
    "holding-duty": "% of the highest power",
    "reading-noise": "°C between two readings",
    "unanswered": "s, longest in a minute, whole seconds",
    "progress-gap": "s, longest in a minute",
}
"""What is learnt, with its unit."""


class Minute(NamedTuple):
    """The minute that is being counted."""

    since: float
    readings: int = 0
    power: float = 0.0
    """sum, % of the highest"""
    wavered: float = 0.0
    """sum of steps between readings, °C"""
    read_at: float | None = None
    unanswered: float = 0.0
    gap: float = 0.0


@dataclass(frozen=True, slots=True)
class Running:
    """The job that may teach."""

    number: int
    spoilt: bool = False
    minute: Minute | None = None
    warm_from: tuple[float, float] | None = None
    """when and at how many °C the warm-up was first seen"""
    moved_at: float | None = None
    found: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    """values of its minutes so far, by subject"""


@dataclass(frozen=True, slots=True)
class Habits:
    """What one machine has taught so far."""

    jobs: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    """one value a job, by subject, oldest first"""
    running: Running | None = None


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
    return tuple(
        Habit(subject, unit, median(values), sigma(values), len(values))
        for subject, unit in SUBJECTS.items()
        if len(values := habits.jobs.get(subject, ())) >= LEAST
    )


def observe(habits: Habits, seen: Snapshot) -> Habits:
    """`habits` after one look, once a second. Ask only with the consent of whoever runs the machine."""
    job, running = seen.job, habits.running
    if job is None or (running is not None and running.number != job.number):
        return habits if running is None else replace(habits, running=None)
    if job.ended is not None:
        return habits if running is None else _taught(habits, running, job)
    if running is None:
        if job.progress and job.moved_at is not None and seen.at - job.started > _MINUTE:
            return habits  # met in its middle
        running = Running(job.number)
    if not running.spoilt and (seen.faults or seen.waits_for_person or job.held > 0 or job.held_since is not None):
        running = Running(job.number, spoilt=True)
    if running.spoilt or blind(seen):
        return habits if running is habits.running else replace(habits, running=running)
    after = _followed(running, job, seen)
    return habits if after is habits.running else replace(habits, running=after)


def _taught(habits: Habits, running: Running, job: Job) -> Habits:
    if running.spoilt or job.ending != "completed":
        return replace(habits, running=None)
    kept = dict(habits.jobs)
    for subject, values in running.found.items():
        kept[subject] = (*kept.get(subject, ()), round(median(values), 6))[-KEPT:]
    return Habits(kept)


def _followed(running: Running, job: Job, seen: Snapshot) -> Running:
    running = _warming(running, seen.nozzle, seen.at)
    if job.building_since is None:
        return running
    minute = running.minute
    if minute is None or minute.since < seen.sighted_since:
        return replace(running, minute=Minute(seen.at), moved_at=job.moved_at)
    if seen.at - minute.since >= _MINUTE:
        return replace(running, found=_counted(running.found, minute), minute=Minute(seen.at), moved_at=job.moved_at)
    owed = 0.0 if seen.owed_since is None else seen.at - seen.owed_since
    gap = 0.0 if job.moved_at is None or running.moved_at is None else job.moved_at - running.moved_at
    minute = _read(minute, seen.nozzle)._replace(unanswered=max(minute.unanswered, owed), gap=max(minute.gap, gap))
    return replace(running, minute=minute, moved_at=job.moved_at)


def _read(minute: Minute, nozzle: Heater) -> Minute:
    """The minute with one more reading of a held heat, if there is a new one."""
    now, target, power, top = nozzle.now, nozzle.target, nozzle.power, nozzle.power_top
    if now is None or not target or power is None or not top or nozzle.previous is None or nozzle.at == minute.read_at:
        return minute
    if abs(now - target) > _CLOSE:
        return minute
    return minute._replace(
        readings=minute.readings + 1,
        power=minute.power + 100 * power / top,
        wavered=minute.wavered + abs(now - nozzle.previous),
        read_at=nozzle.at,
    )


def _warming(running: Running, nozzle: Heater, at: float) -> Running:
    """A warm-up is timed over the stretch where the heater runs at full power."""
    now, target, began = nozzle.now, nozzle.target, running.warm_from
    if now is None or not target or (began is not None and at - began[0] > _LONGEST_WARM):
        return running if began is None else replace(running, warm_from=None)
    if began is not None and nozzle.target_since is not None and nozzle.target_since > began[0]:
        began = None  # another target
    if began is None:
        return replace(running, warm_from=(at, now)) if target - now >= _FAR else running
    if now < target - _NEAR:
        return running
    rate = (now - began[1]) / max(1.0, at - began[0])
    return replace(running, warm_from=None, found=_with(running.found, "heating-rate", rate))


def _counted(found: Mapping[str, tuple[float, ...]], minute: Minute) -> Mapping[str, tuple[float, ...]]:
    if minute.readings:
        found = _with(found, "holding-duty", minute.power / minute.readings)
        found = _with(found, "reading-noise", minute.wavered / minute.readings)
    found = _with(found, "unanswered", minute.unanswered)
    return _with(found, "progress-gap", minute.gap) if minute.gap else found


def _with(found: Mapping[str, tuple[float, ...]], subject: str, value: float) -> Mapping[str, tuple[float, ...]]:
    values = (*found.get(subject, ()), round(value, 6))
    return {**found, subject: values if len(values) <= _MINUTES else values[::2]}
