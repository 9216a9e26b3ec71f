"""Every fault of the simulated machine, in every family, through the dialect and the core: which alarms come, and how soon.

The ground truth is what was done to the machine underneath; the recordings are made by the watch's own poller.
"""

from functools import cache

import pytest

from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import AlarmChanged, JobChanged, Transition
from watchdog.core.moment import Moment
from watchdog.service.replay import run as replay
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine, Settings
from watchdog.simulator.faults import FAULTS
from watchdog.simulator.laboratory import EPOCH, run, sample_options

FAMILIES = ("A", "A'", "B")
WATCH = watch_of("doorway-1", Machine(), Settings())
STRIKES = 620.0  # s: 40 % of the 22-minute job are read some time after this
HOUR = 3600.0

HALTS = {"controller-halted", "controller-restarted"}
"""what may follow when the controller protects itself: it says so, or restarts"""
MAY_FOLLOW = {
    "card-error": {"job-stalled"},
    "fan-on-block": {"heat-runaway", "heating-stalled", "heat-not-holding"} | HALTS,
    "heater-open": {"heat-runaway", "heating-stalled", "heat-not-holding"} | HALTS,
    "heater-weak": {"heat-runaway", "heating-stalled", "heat-not-holding"} | HALTS,
    "sensor-loose": {"heat-runaway", "heating-stalled", "heat-not-holding"} | HALTS,
    "runaway": {"temperature-implausible", "hot-idle"} | HALTS,
    "run-out-told": {"waiting-for-person"},
    "sensor-slipping": {"heat-runaway", "heating-stalled", "heat-not-holding"} | HALTS,
    "sensor-open": HALTS,
    "sensor-short": HALTS,
    "halt": HALTS,
    "job-not-started": {"hot-idle"},
    "paused-forgotten": {"hot-idle", "job-stalled"},
}
RIGHT = {
    "cable-pulled": {"link-lost"},
    "card-error": {"card-fault"},
    "card-pulled": {"card-fault"},
    "counter-back": {"card-fault"},
    "fan-on-block": {"heat-not-holding", "heat-runaway"},
    "filament-change-waits": {"waiting-for-person"},
    "frozen-extruding": {"silent-hot"},
    "frozen-hot": {"silent-hot"},
    "halt": {"controller-halted"},
    "heater-open": {"heat-not-holding", "heat-runaway"},
    "heater-weak": {"heat-not-holding", "heat-runaway"},
    "hot-after-job": {"hot-idle"},
    "hot-after-load": {"hot-idle"},
    "job-not-started": {"job-not-started", "hot-idle"},
    "paused-forgotten": {"waiting-for-person", "job-stalled"},  # some families hold without a word
    "preheat-forgotten": {"hot-idle"},
    "restart": {"controller-restarted"},
    "run-out-told": {"filament-out", "waiting-for-person"},
    "runaway": {"heat-runaway"},
    "sensor-loose": {"temperature-implausible", "heat-not-holding", "heat-runaway"},
    "sensor-open": {"temperature-implausible"},
    "sensor-slipping": {"temperature-implausible", "heat-not-holding", "heat-runaway"},
    "sensor-short": {"temperature-implausible"},
    "stall": {"job-stalled"},
}
"""the alarm that must come first, where more than one would tell the cause"""
AT_ONCE = sorted(
    name for name in RIGHT if FAULTS[name].in_job and name != "hot-after-job"
)  # that one is seen after the end
SILENT = {
    "slow", "speed-60", "port-reset",  # healthy
    "noise",  # judged apart, since it can turn a question into an order
    "nozzle-jam", "run-out-unseen", "sensor-drifting", "tangle",  # seen in the heater's power alone
}  # fmt: skip
STREAMED = {"bytes-lost", "cable-noisy", "computer-asleep", "places-lost", "program-gone"}
"""faults of a streamed job; judged by the bench's own cases"""


@cache
def told(script: str, family: str, duration: float = HOUR, seed: int = 3) -> tuple[AlarmChanged | JobChanged, ...]:
    """The alarms raised and the jobs seen in a simulated hour."""
    lines = run(script, seed=seed, duration=duration, options=sample_options(family))
    heard = ((Moment(line.stamp - EPOCH, line.stamp), line.direction, line.text) for line in lines)
    return tuple(effect for effect in replay(WATCH, heard) if isinstance(effect, AlarmChanged | JobChanged))


def raised(script: str, family: str, duration: float = HOUR, seed: int = 3) -> list[tuple[str, float]]:
    """Alarm and s since the start of each raising, in order."""
    return [
        (effect.alarm, effect.at.elapsed)
        for effect in told(script, family, duration, seed)
        if isinstance(effect, AlarmChanged) and effect.transition is Transition.RAISED
    ]


def lesson(fault: str) -> str:
    """A job that meets the fault at 40 %, or the fault alone where it needs no job."""
    if FAULTS[fault].in_job:
        return f"at 30 s choose oar-collar.gcode\nat 35 s start\nat 40 % of the job fault {fault}"
    return f"at 30 s fault {fault}"


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("fault", sorted(set(FAULTS) - SILENT - STREAMED))
def test_the_first_alarm_names_the_cause_and_no_wrong_one_follows(fault: str, family: str) -> None:
    """A message that names the wrong thing sends a person the wrong way."""
    alarms = raised(lesson(fault), family)
    assert alarms, "nobody would have been told"
    assert alarms[0][0] in RIGHT[fault]
    assert {name for name, _ in alarms} <= RIGHT[fault] | MAY_FOLLOW.get(fault, set())
    assert len(alarms) == len({name for name, _ in alarms}), "the same alarm was raised twice"


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("fault", AT_ONCE)
def test_it_comes_while_acting_still_helps(fault: str, family: str) -> None:
    """Within the time to respond after the fault could be seen; a hold is waited for, a stall is five minutes long."""
    name, at = raised(lesson(fault), family)[0]
    assert at > STRIKES
    assert at - STRIKES <= TABLE[name].respond_within + 90


def test_every_fault_has_its_right_alarm_written_down() -> None:
    assert set(RIGHT) | SILENT | STREAMED == set(FAULTS)


@pytest.mark.parametrize("family", FAMILIES)
@pytest.mark.parametrize("job", ["thumb-ring.gcode", "oar-collar.gcode", "cleat-hook.gcode"])
@pytest.mark.parametrize("fault", ["", "\nat 40 % of the job fault slow", "\nat 40 % of the job fault speed-60"])
def test_healthy_jobs_raise_nothing_and_are_seen_from_start_to_end(job: str, family: str, fault: str) -> None:
    """Each false alarm takes a person out of a lesson; after a few nobody comes any more."""
    script = f"at 30 s choose {job}\nat 35 s start{fault}"
    assert raised(script, family, 5400.0) == []
    events = [effect.event for effect in told(script, family, 5400.0) if isinstance(effect, JobChanged)]
    assert events == ["started", "completed"]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("family", FAMILIES)
def test_a_day_of_jobs_loads_and_pauses_that_people_end_in_time_raises_nothing(family: str, seed: int) -> None:
    """What a school does all day: a load that is cooled, a hold that is ended, jobs one after the other, a bed left warm."""
    script = """
        at 60 s             load
        at 4 min            cool
        at 10 min           choose thumb-ring.gcode
        at 10 min 5 s       start
        at 50 % of the job  pause
        at 17 min           resume
        at 30 min           choose oar-collar.gcode
        at 30 min 5 s       start
        at 70 min           choose thumb-ring.gcode
        at 70 min 5 s       start
        at 85 min           preheat 0 60
        at 100 min          cool
    """
    names = [name for name, _ in raised(script, family, 2 * HOUR, seed)]
    # A hold of some minutes is told where the machine says that it waits for somebody; that is what it is for.
    assert set(names) <= {"waiting-for-person"}
