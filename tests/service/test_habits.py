"""What is learnt of one machine: with consent only, from healthy jobs only, kept over a restart, and forgotten when asked."""

from functools import cache

from watchdog.core.effects import Noted
from watchdog.core.events import Forget, Line, Tick
from watchdog.core.learning import LEAST, SUBJECTS, Habits, usual
from watchdog.core.moment import Moment
from watchdog.core.step import World, begin, step
from watchdog.dialect import read
from watchdog.service.frozen import freeze, thaw
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine, Settings
from watchdog.simulator.laboratory import EPOCH, run, sample_options

LEARNS = watch_of("doorway-1", Machine(learn=True), Settings())
JOBS = "".join(f"at {20 * nth} min choose thumb-ring.gcode\nat {20 * nth} min 5 s start\n" for nth in range(LEAST))


@cache
def after(script: str, consent: bool = True) -> World:
    """The world after five jobs, twenty minutes apart, on a machine that tells of starts and holds."""
    watch = LEARNS if consent else watch_of("doorway-1", Machine(), Settings())
    world, due = begin(watch, Moment(0.0, EPOCH)), 1.0
    for line in run(script, seed=2, duration=1200.0 * LEAST, options=sample_options("A'")):
        at = Moment(line.stamp - EPOCH, line.stamp)
        while due <= at.elapsed:
            world, _ = step(watch, world, Tick(Moment(due, EPOCH + due)))
            due += 1.0
        world, _ = step(watch, world, Line(at, line.direction, line.text, read(line.direction, line.text)))
    return world


def test_healthy_jobs_teach_what_the_simulated_machine_is_like() -> None:
    habits = {habit.subject: habit for habit in usual(after(JOBS).habits)}
    # Flow is known from plans alone, and there are none here.
    assert set(habits) == set(SUBJECTS) - {"flow", "flow-power", "flow-noise", "melt-share"}
    # This family's waiting lines tell no target: it comes after the warm-up, and times it all the same.
    assert 1.0 < habits["heating-rate"].usual < 4.0
    assert 0.0 < habits["unanswered"].usual < 2.0
    assert all(habit.jobs == LEAST for habit in habits.values())
    assert 30 < habits["holding-duty"].usual <= 100  # of the highest output seen
    assert 0.0 < habits["reading-noise"].usual < 1.0
    assert 0.0 < habits["progress-gap"].usual < 30.0


def test_nothing_is_kept_without_consent() -> None:
    assert after(JOBS, consent=False).habits == Habits()


def test_a_job_with_a_fault_teaches_nothing() -> None:
    """What is wrong must not become what is usual."""
    stopped = JOBS.replace("at 0 min 5 s start\n", "at 0 min 5 s start\nat 50 % of the job pause\nat 12 min resume\n")
    assert all(len(values) == LEAST - 1 for values in after(stopped).habits.jobs.values())


def test_habits_outlive_a_restart_and_end_when_somebody_asks() -> None:
    world = after(JOBS)
    thawed = thaw(LEARNS, freeze(LEARNS, world))
    assert thawed is not None
    assert thawed[0].habits == world.habits
    forgotten, effects = step(LEARNS, world, Forget(Moment(1e5, EPOCH + 1e5), "lead"))
    assert forgotten.habits == Habits()
    assert forgotten.history.jobs == ()
    assert [effect.kind for effect in effects if isinstance(effect, Noted)] == ["forgotten"]
