"""What a machine's own healthy jobs teach, and what teaches nothing."""

from collections.abc import Iterable
from random import Random
from statistics import median

import pytest
from pydantic import TypeAdapter

from watchdog.core import machine
from watchdog.core.anchors import CAP, FREE
from watchdog.core.events import Line
from watchdog.core.learning import KEPT, LEAST, Habits, observe, usual
from watchdog.core.moment import Moment
from watchdog.core.observations import (
    Acknowledged,
    CardProgress,
    Command,
    Fault,
    FaultKind,
    Idle,
    JobDone,
    JobStopped,
    LinkDown,
    LinkUp,
    Observation,
    Reading,
    Temperatures,
    Waiting,
)
from watchdog.core.snapshot import Source
from watchdog.core.traffic import Direction

NOON = 1_772_539_200.0  # s since 1970: a Tuesday
LIMITS = machine.Limits()
RATE = 2.5  # °C/s: how this machine warms up


class School:
    """One machine, job after job."""

    def __init__(self, seed: int = 1) -> None:
        self.now = 0.0
        self.random = Random(seed)
        self.memory = machine.begin(Moment(0.0, NOON), Source.SERIAL)
        self.habits = Habits()
        self.line(LinkUp(), direction=Direction.REMARK)

    def line(self, *meaning: Observation, direction: Direction = Direction.RECEIVED) -> None:
        event = Line(Moment(self.now, NOON + self.now), direction, "", meaning)
        self.memory = machine.observe(LIMITS, self.memory, event)[0]

    def second(self) -> None:
        self.now += 1
        moment = Moment(self.now, NOON + self.now)
        self.memory = machine.tick(LIMITS, self.memory, moment)[0]
        self.habits = observe(self.habits, machine.snapshot(LIMITS, self.memory, moment))

    def heat(self, celsius: float, target: float | None, power: int) -> None:
        noise = self.random.choice((-0.1, 0.0, 0.1))
        reading = Reading(round(celsius + noise, 1), target, power)
        self.line(Temperatures(reading, Reading(60.0, 60.0, 20)))

    def ask(self, takes: float) -> None:
        """One query, answered after `takes` s."""
        self.line(Command("M105", (), ""), direction=Direction.SENT)
        self.now += takes
        self.line(Acknowledged())
        self.now -= takes

    def job(
        self,
        end: Observation | None = JobDone(),  # noqa: B008
        odd: Observation | None = None,
        minutes: int = 10,
        *,
        rate: float = RATE,
        told_from: float = 0.0,
        warm: bool = False,
        answers_in: float | None = None,
    ) -> None:
        """A card job with power 64 of 127 while it holds. `odd` is said in its middle, the target from `told_from` °C on."""
        self.heat(205.0 if warm else 25.0, 205.0 if warm else 0.0, 0)
        self.line(CardProgress(0, 1_000_000))
        self.second()
        celsius = 205.0 if warm else 25.0
        self.line(CardProgress(300, 1_000_000))
        while celsius < 205.0:
            self.heat(celsius, 205.0 if celsius >= told_from else None, 127)
            self.second()
            celsius += rate
        for second in range(60 * minutes):
            self.heat(205.0, 205.0, 64)
            if second % 4 == 0:
                self.line(CardProgress(300 + 100 * second, 1_000_000))
            if answers_in is not None and second % 2:
                self.ask(answers_in)
            if odd is not None and second == 200:
                self.line(odd)
            self.second()
        if end is not None:
            self.line(end)
        for _ in range(5):
            self.second()


@pytest.fixture(scope="module")
def taught() -> School:
    school = School()
    for _ in range(LEAST):
        school.job()
    return school


def test_healthy_jobs_teach_what_the_machine_is_like(taught: School) -> None:
    found = {habit.subject: habit for habit in usual(taught.habits)}
    assert found["heating-rate"].usual == pytest.approx(RATE, rel=0.03)
    assert found["holding-duty"].usual == pytest.approx(100 * 64 / 127, rel=0.01)
    assert found["reading-noise"].usual == pytest.approx(
        4 / 45, rel=0.15
    )  # mean step between two of three equal chances
    assert found["progress-gap"].usual == pytest.approx(4.0)
    assert {habit.jobs for habit in found.values()} == {LEAST}
    assert found["heating-rate"].spread < 0.1


def test_too_few_jobs_make_no_habit() -> None:
    school = School()
    for _ in range(LEAST - 1):
        school.job(minutes=3)
    assert usual(school.habits) == ()


@pytest.mark.parametrize(
    ("end", "odd"),
    [
        (JobStopped(), None),
        (JobDone(), Fault(FaultKind.CARD_READ, "read error")),
        (JobDone(), Waiting("press button")),
        (JobDone(), LinkDown("pulled")),
    ],
)
def test_a_job_that_went_wrong_teaches_nothing(end: Observation, odd: Observation | None) -> None:
    """A habit learnt from a jam would call the next jam usual."""
    school = School()
    school.job(end, odd if not isinstance(odd, LinkDown) else None)
    if isinstance(odd, LinkDown):
        school = School()
        school.job(None)
        school.line(odd, direction=Direction.REMARK)
        for _ in range(100):
            school.second()
    assert school.habits.jobs == {}


def test_a_job_that_is_met_in_its_middle_teaches_nothing() -> None:
    school = School()
    school.job(None, minutes=3)
    school.habits = Habits()
    for second in range(200):
        school.heat(205.0, 205.0, 64)
        school.line(CardProgress(50_000 + 100 * second, 1_000_000))
        school.second()
    school.line(JobDone())
    school.second()
    assert (school.habits.jobs, school.habits.running) == ({}, None)


def test_one_wild_job_moves_nothing(taught: School) -> None:
    wild = dict(taught.habits.jobs)
    wild["holding-duty"] = (*wild["holding-duty"][1:], 400.0)
    found = {habit.subject: habit for habit in usual(Habits(wild))}
    assert found["holding-duty"].usual == pytest.approx(100 * 64 / 127, rel=0.01)


def test_old_jobs_make_room_and_a_long_one_stays_bounded() -> None:
    """The store must not grow through a school year."""
    school = School()
    for _ in range(LEAST):
        school.job(minutes=2)
    full = {subject: values * KEPT for subject, values in school.habits.jobs.items()}
    school.habits = Habits(full)
    school.job(minutes=2)
    assert {len(values) for values in school.habits.jobs.values()} <= set(range(KEPT, LEAST * KEPT + 1))
    assert len(school.habits.jobs["heating-rate"]) == KEPT
    school.job(None, minutes=300)
    running = school.habits.running
    assert running is not None
    assert max(map(len, running.found.values())) <= 240


def test_habits_survive_being_stored_in_mid_job(taught: School) -> None:
    kept = TypeAdapter(Habits)
    school = School()
    school.job(None, minutes=3)
    for habits in (taught.habits, school.habits, replaced(taught.habits, school.habits)):
        assert kept.validate_json(kept.dump_json(habits)) == habits


def replaced(first: Habits, second: Habits) -> Habits:
    return Habits(first.jobs, second.running)


def test_nothing_is_built_anew_while_no_job_runs(taught: School) -> None:
    school = School()
    idle: Iterable[int] = range(50)
    school.heat(24.0, 0.0, 0)
    school.second()
    before = school.habits
    for _ in idle:
        school.heat(24.0, 0.0, 0)
        school.second()
    assert school.habits is before


@pytest.mark.parametrize("told_from", [0.0, 100.0, 200.0])
def test_a_warm_up_teaches_though_the_target_is_told_late(told_from: float) -> None:
    """Many controllers leave the target out while they wait for heat, and answer no question then."""
    school = School()
    for _ in range(LEAST):
        school.job(minutes=3, told_from=told_from)
    found = {habit.subject: habit for habit in usual(school.habits)}
    assert found["heating-rate"].usual == pytest.approx(RATE, rel=0.05)


def test_a_warm_up_before_the_job_teaches_with_it() -> None:
    """Whoever warms up first, as many do, would else never teach."""
    school = School()
    for _ in range(LEAST):
        school.line(Idle())
        celsius = 25.0
        while celsius < 205.0:
            school.heat(celsius, 205.0, 127)
            school.second()
            celsius += RATE
        school.job(minutes=3, warm=True)
    found = {habit.subject: habit for habit in usual(school.habits)}
    assert found["heating-rate"].usual == pytest.approx(RATE, rel=0.05)


def test_the_longest_silence_is_known_to_a_tenth_of_a_second() -> None:
    """The watch looks once a second: a machine that always answers within 0.3 s would else look like one that takes no time."""
    school = School()
    for _ in range(LEAST):
        school.job(minutes=5, answers_in=0.3)
    found = {habit.subject: habit for habit in usual(school.habits)}
    assert found["unanswered"].usual == pytest.approx(0.3, abs=0.05)


def test_a_job_says_the_longest_of_what_a_condition_waits_for(taught: School) -> None:
    shown = taught.habits.shown
    assert shown["progress-gap"].most == pytest.approx(4.0)
    assert shown["heating-rate"].jobs == LEAST


def test_habits_that_an_earlier_version_kept_are_used_from_the_next_job_on(taught: School) -> None:
    school = School()
    school.habits = Habits(taught.habits.jobs)
    school.job(None, minutes=1)
    assert school.habits.shown["holding-duty"] == taught.habits.shown["holding-duty"]


def test_a_fault_that_grows_is_not_learnt_as_usual() -> None:
    """A heater that loses two per cent a job would be its own excuse: after a term its half would be the usual."""
    school, rate = School(), RATE
    for nth in range(FREE + KEPT):
        school.job(minutes=3, rate=rate)
        rate *= 0.98 if nth >= FREE else 1.0
    assert median(school.habits.jobs["heating-rate"]) < 0.7 * RATE
    assert school.habits.shown["heating-rate"].middle >= (1 - CAP) * RATE * 0.97
