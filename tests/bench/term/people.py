"""What people do at one machine through a term: start jobs, answer alarms, cure what went wrong, label, change and clean.

Rates, delays and habits are assumed, no source. Everything is drawn from the seed, so the same seed gives the same term.
"""

import heapq
from collections.abc import Callable
from datetime import date, datetime, timedelta
from itertools import count
from math import exp
from random import Random
from typing import NamedTuple

from tests.bench.term import house, incidents
from tests.bench.term.entries import Entered
from tests.bench.term.keeper import Keeper, grams
from tests.bench.term.stand import Stand
from tests.bench.term.truth import Refused, TrueIncident, TrueJob, Truth
from watchdog.core.alarms.standing import Phase
from watchdog.core.effects import AlarmChanged, TellKind, Transition
from watchdog.core.events import Acknowledge
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.timetable import presence

MINUTE, DAY = 60.0, 86400.0
LOOK = 5
"""s between two looks while a job goes its way"""
MARGIN = 1.35
"""times the planned duration that must fit before closing, and ten minutes more"""
PATIENCE = 45 * MINUTE
"""s after which somebody comes by in any case"""
OWN_FAILURES = 0.015
"""share of jobs that fail in a way that nothing on the wire shows: a corner lifts, a wall is too thin"""
_OWN = (("let-go", "machine"), ("thin-wall", "design"), ("wrong-settings", "operator"), ("filament-damp", "material"))
_ORIGINS = {
    "card-fault": "machine",
    "surface-worn": "machine",
    "power-dip": "supply",
    "feed-tangle": "material",
    "nozzle-jam": "machine",
    "computer-stopped": "supply",
}


_PAUSES = {house.DOORWAY: (10.0, 75.0), house.LOFT: (25.0, 150.0)}
"""min from the end of a job to the next"""


class Habit(NamedTuple):
    """How likely somebody sees one message, and the median s until they take it on."""

    share: float
    median: float


_HABITS = {"lesson": Habit(0.6, 200.0), "hours": Habit(0.9, 80.0), "outside": Habit(0.5, 600.0)}


class Running(NamedTuple):
    """The job that runs."""

    kind: house.Kind
    started: float
    incident: str | None
    strike_at: float | None
    """share of the job"""


class People:
    """Everybody who has to do with one machine."""

    def __init__(self, name: str, furnished: house.House, weeks: int, seed: int, busy: float) -> None:
        """`busy`: 1 is a term as usual; the pauses between jobs are so much shorter or longer."""
        self.random = Random(f"people {seed} {name}")
        self.name, self.busy = name, busy
        self.stand = Stand(name, furnished, seed, self._told)
        self._keeper = Keeper(self.stand, self.random)
        self.plans = {file.name: file.plan for file in furnished.files[name]}
        self._agenda: list[tuple[float, int, Callable[[], None]]] = []
        self._order = count()
        self._coming = incidents.drawn(weeks, name, seed)
        self._today: str | None = None  # an incident that is still to strike today
        self._present: tuple[str, float] | None = None  # one that has struck and is not cured: name, stamp
        self._seen_by = ""
        self._job: Running | None = None
        self._share = 0.0  # of the job, when last looked at
        self._stopped = False  # by somebody
        self._cured: tuple[str, float] | None = None  # the last one
        self._waiting: list[str] = []  # incidents whose day has come
        self._next: str | None = None  # the file that is wanted next, whatever else
        self._wanted_hull = False
        self._numbers = 0
        self._jobs: list[TrueJob] = []
        self._incidents: list[TrueIncident] = []
        self._refused: list[Refused] = []
        self._heard = 0  # entries that were looked through for new alarms
        self.ends = house.stamp(house.days(weeks)[-1] + timedelta(days=1), 0)
        for day in house.days(weeks):
            if day.weekday() < 6 and day not in house.HOLIDAYS:
                opens = 600 if day.weekday() > 3 else 780
                self._at(house.stamp(day, opens + self.random.uniform(4, 25)), lambda day=day: self._opens(day))  # type: ignore[misc]

    @property
    def now(self) -> float:
        """Stamp."""
        return self.stand.now.stamp

    def live(self, progress: Callable[[float], None]) -> Truth:
        """The whole term. `progress` hears its share now and then."""
        stand, begins, shown = self.stand, self.now, 0.0
        for _ in range(90):  # the watch and the machine get to know each other
            stand.pass_seconds()
        while self.now < self.ends:
            while self._agenda and self._agenda[0][0] <= self.now:
                heapq.heappop(self._agenda)[2]()
            if self._job is None and stand.rests():
                until = min(self._agenda[0][0] if self._agenda else self.ends, self.ends)
                if until - self.now >= 2.0:
                    stand.pass_idle(float(int(until - self.now)))
                    continue
            stand.pass_seconds(self._step())
            self._look()
            if self.now - shown > DAY:
                shown = self.now
                progress((self.now - begins) / (self.ends - begins))
        stand.save()
        return Truth(
            tuple(self._jobs), tuple(self._incidents), tuple(self._refused), self._keeper.spools, self._keeper.sheets
        )

    def _step(self) -> int:
        """s until the next look: one where something begins, ends or goes wrong; a few while a job goes its way."""
        due = self._agenda[0][0] - self.now if self._agenda else self.ends - self.now
        if self._present is not None or due < LOOK or not self.stand.steady():
            return 1
        if self._job is None:
            return 1 if self.stand.machine.at_work else LOOK
        strike = 1.0 if self._job.strike_at is None else self._job.strike_at
        return LOOK if 0.002 < self._share < min(strike - 0.01, 0.96) else 1

    # ------------------------------------------------------------ the day

    def _at(self, stamp: float, deed: Callable[[], None]) -> None:
        heapq.heappush(self._agenda, (stamp, next(self._order), deed))

    def _in(self, low: float, high: float, deed: Callable[[], None]) -> None:
        """Between `low` and `high` minutes from now."""
        self._at(self.now + MINUTE * self.random.uniform(low, high), deed)

    def _opens(self, day: date) -> None:
        if self._keeper.spools == 0:
            self._keeper.load_spool("house brand")
            self._keeper.new_sheet(None)
        for one in self._coming:
            if one.day == day and one.name == "refused":
                self._at(house.stamp(day, 990), self._is_refused)
            elif one.day == day:
                self._waiting.append(one.name)
        if self._today is None and self._waiting:
            self._today = self._waiting.pop(0)
        if day.weekday() == 0:
            self._keeper.upkeep(day)
        if self._today is None and self._wanted_hull and day.weekday() < 4:
            self._wanted_hull, self._next = False, house.HULL
        elif self._today == "laptop-restart":
            self._at(house.stamp(day, 1040), self._begin)
            if self.random.random() < 0.5:
                return
        elif self._today == "hot-idle":
            self.stand.do("fault", "hot-after-load")
            self.stand.machine.struck.clear()
            self._strikes("hot-idle")
            return
        self._begin()

    def _is_refused(self) -> None:
        """Somebody wants a hull half late in the afternoon; `check` speaks against it, and it waits for another day."""
        self._refused.append(Refused(self.name, house.HULL, self.now))
        self._wanted_hull = True

    def _begin(self) -> None:
        """Start the next job, if the day has room for one."""
        if self._job is not None or self._present is not None or self.stand.machine.at_work:
            return
        kind = self._chosen()
        if kind is None:
            return
        need = grams(self.plans[kind.name].filament)
        if self._keeper.left < 1.1 * need + 5:
            self._keeper.load_spool("house brand")
        if self._today == "tangle" and kind.name in incidents.KINDS["tangle"].jobs:
            self._keeper.load_spool("cheap, wound badly")
        if self._keeper.on_sheet >= self._keeper.sheet_lasts and self._today != "sheet-worn":
            self._keeper.new_sheet("worn")
        incident, share = self._awaits(kind)
        self._next, self._share, self._stopped = None, 0.0, False
        self._job = Running(kind, self.now, incident, share)
        self._numbers += 1
        self._keeper.on_sheet += 1
        if self.stand.streamed:
            self.stand.do("stream", kind.name)
        else:
            self.stand.do("choose", kind.name)
            self.stand.do("start")

    def _chosen(self) -> house.Kind | None:
        """A part that fits before closing; None when none does, or nobody is there."""
        timetable = self.stand.watch.timetable
        if timetable is None or (until := presence(timetable, self.now).until) is None:
            return None
        fit = [
            kind
            for kind in house.kinds().values()
            if self.now + MARGIN * self.plans[kind.name].seconds + 10 * MINUTE < until
        ]
        if self._today is not None and (only := incidents.KINDS[self._today].jobs):
            fit = [kind for kind in fit if kind.name in only] or fit
        if self._today == "laptop-restart" and self.now < self._six() - 65 * MINUTE:
            fit = [
                kind for kind in fit if self.now + MARGIN * self.plans[kind.name].seconds < self._six() - 70 * MINUTE
            ]
        fit = [kind for kind in fit if kind.name == self._next] or fit
        return self.random.choices(fit, [kind.share for kind in fit])[0] if fit else None

    def _six(self) -> float:
        """Stamp of today's 18:00."""
        return house.stamp(datetime.fromtimestamp(self.now, house.ZONE).date(), 1080)

    def _awaits(self, kind: house.Kind) -> tuple[str | None, float | None]:
        """The incident that will strike this job, and at which share of it."""
        name = self._today
        if name is None or (incidents.KINDS[name].jobs and kind.name not in incidents.KINDS[name].jobs):
            return None, None
        if name == "laptop-restart":
            late = self.now + self.plans[kind.name].seconds > self._six() + 5 * MINUTE
            if not late:
                return None, None
            self._at(self._six(), self._laptop_restarts)
            return name, None
        if name == "jam":
            return name, house.layer_share(kind, 90, lines=self.stand.streamed)
        return name, self.random.uniform(*incidents.KINDS[name].share)

    def _laptop_restarts(self) -> None:
        if self._today == "laptop-restart" and self._job is not None and self._job.incident == "laptop-restart":
            self.stand.do("fault", "program-gone")
            self._strikes("laptop-restart")

    # ------------------------------------------------------------ while it runs

    def _look(self) -> None:
        """Once a second: does an incident strike, has the job ended, is there a new alarm?"""
        machine, job = self.stand.machine, self._job
        if job is not None:
            share = machine.job_share()
            if share is not None and not self._stopped:  # a program that is told to stop sends three lines more
                self._share = share
            strikes = job.strike_at is not None and share is not None and share >= job.strike_at
            if job.incident is not None and strikes and job.incident == self._today:
                fault = incidents.KINDS[job.incident].fault
                if fault is not None:
                    self.stand.do("fault", fault)
                self._strikes(job.incident)
            if not machine.at_work:
                self._over(job)
        for entry in self.stand.entries[self._heard :]:
            for effect in () if isinstance(entry, Entered) else entry.effects:
                if isinstance(effect, AlarmChanged) and effect.transition is Transition.RAISED:
                    self._judge(effect)
        self._heard = len(self.stand.entries)

    def _strikes(self, name: str) -> None:
        self._present, self._today, self._seen_by = (name, self.now), None, "eyes"
        struck = self._present
        if name == "sheet-worn":
            self._in(1, 4, lambda: self._cure(struck))
        self._at(self.now + PATIENCE, lambda: self._cure(struck))

    def _judge(self, raised: AlarmChanged) -> None:
        """What somebody says of an alarm, some days later: it was useful where it belongs to what had gone wrong."""
        name = self._present[0] if self._present is not None else None
        if name is None and self._cured is not None and self.now - self._cured[1] < incidents.AFTER:
            name = self._cured[0]
        meant = name is not None and raised.alarm in incidents.KINDS[name].right | incidents.KINDS[name].follow
        if self.random.random() < 0.9:
            self._in(
                60,
                1500,
                lambda: self._keeper.enter(
                    "alarm",
                    alarm=raised.alarm,
                    occurrence=raised.occurrence,
                    usefulness="useful" if meant else "nuisance",
                ),
            )

    # ------------------------------------------------------------ alarms

    def _told(self, order: Order, at: Moment) -> None:
        """A message has gone to somebody, who may see it and take the alarm on."""
        if order.tell.kind in (TellKind.ALL_CLEAR, TellKind.NOTICE):
            return
        timetable = self.stand.watch.timetable
        here = None if timetable is None else presence(timetable, at.stamp)
        habit = _HABITS[
            "hours" if here is None else "lesson" if here.lesson else "hours" if here.supervised else "outside"
        ]
        if self.random.random() >= habit.share:
            return
        after = habit.median * exp(self.random.gauss(0.0, 0.6))
        sent = max(at.stamp, order.not_before or 0.0)
        self._at(sent + after, lambda: self._acknowledge(order.tell.alarm, order.tell.occurrence, order.person))

    def _acknowledge(self, alarm: str, occurrence: int, person: str) -> None:
        stands = self.stand.world.book.alarms.get(alarm)
        if stands is None or stands.occurrence != occurrence:
            return
        if stands.phase not in (Phase.UNACKNOWLEDGED, Phase.RETURNED):
            return
        self.stand.feed(Acknowledge(self.stand.now, alarm, person, "link"))
        struck = self._present
        if struck is not None and alarm in incidents.KINDS[struck[0]].right | incidents.KINDS[struck[0]].follow:
            self._seen_by = "alarm"
            self._in(0.7, 3.0, lambda: self._cure(struck))

    # ------------------------------------------------------------ cures

    def _cure(self, struck: tuple[str, float]) -> None:
        """Somebody stands at the machine and does something about it."""
        if self._present != struck:
            return
        name, at = struck
        kind = incidents.KINDS[name]
        stand = self.stand
        if name == "laptop-restart":
            stand.do("cool")
            if self._job is not None:
                self._ends(self._job, "abandoned")
            self._in(3, 6, stand.computer_starts)
        elif self._job is not None:
            self._next, self._stopped = self._job.kind.name, True
            stand.do("stream-stop" if stand.streamed else "stop")
            if kind.fault is not None:
                stand.do("cool")
        if kind.fault is not None and name not in ("laptop-restart", "supply-dip", "hot-idle"):
            stand.do("heal", kind.fault)
        self._incidents.append(
            TrueIncident(
                name, self.name, at, self.now, tuple(sorted(kind.right)), tuple(sorted(kind.follow)), self._seen_by
            )
        )
        self._present, self._cured = None, (name, self.now)
        if name == "hot-idle":
            self._begin()
            if self._job is None:
                stand.do("cool")
            return
        if name == "sheet-worn":
            self._in(3, 6, lambda: self._keeper.new_sheet("worn"))
        if name == "tangle":
            self._in(3, 6, lambda: self._keeper.load_spool("house brand"))
        self._in(8, 20, self._begin)

    def _over(self, job: Running) -> None:
        """The job has ended, by itself or not."""
        if self._stopped or (self._present is not None and self._present[0] == "supply-dip"):
            self._ends(job, "abandoned")
        else:
            self._ends(job, "completed")
            low, high = _PAUSES[self.name]
            self._in(low / self.busy, high / self.busy, self._begin)

    def _ends(self, job: Running, ending: str) -> None:
        self._job = None
        share = 1.0 if ending == "completed" else self._share
        fed = house.filament(job.kind, share, lines=self.stand.streamed)
        self._keeper.left -= grams(fed)
        failed, label = ending != "completed", None
        words: dict[str, object] = {"started": job.started, "outcome": "good"}
        if failed:
            kind = incidents.KINDS[job.incident or ""]
            cause = kind.cause or ""
            words |= {"outcome": "failed", "cause": cause, "origin": _ORIGINS[cause], "remedy": kind.remedy}
        elif self.random.random() < OWN_FAILURES:
            failed = True
            cause, origin = self.random.choice(_OWN)
            words |= {"outcome": "failed", "cause": cause, "origin": origin}
        if failed or self.random.random() < 0.85:
            label = str(words["outcome"])
            self._in(2, 90, lambda: self._keeper.enter("job", **words))
        self._jobs.append(
            TrueJob(
                self.name,
                self._numbers,
                job.kind.name,
                job.started,
                self.now,
                ending,
                round(fed, 1),
                job.incident,
                failed,
                label,
            )
        )
