"""Jobs watched with their plans: the simulated machine executes the very file, with a stepping of its own."""

from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from watchdog.core.effects import AlarmChanged, Effect, JobChanged, Noted, Transition
from watchdog.core.moment import Moment
from watchdog.core.observations import CardProgress
from watchdog.core.outlook import JobFile
from watchdog.core.plan import Plan
from watchdog.core.step import Watch
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.planning import plan_file
from watchdog.service.replay import run as replay
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine, Settings
from watchdog.simulator.jobs import SAMPLES
from watchdog.simulator.laboratory import EPOCH, run, sample_options

FROZEN = 90.0  # s


@cache
def planned(name: str) -> Plan:
    """The plan of a sample job for the simulated machine's own motion."""
    with TemporaryDirectory() as folder:
        file = Path(folder) / name
        file.write_bytes(SAMPLES[name]())
        return plan_file(file, MachineLimits(homing=24.0, probing=40.0))


def with_plans() -> Watch:
    plain = watch_of("doorway-1", Machine(), Settings())
    files = tuple(JobFile(name, planned(name)) for name in SAMPLES)
    return replace(plain, files=files)


@cache
def told(script: str, duration: float, family: str = "A", seed: int = 5) -> tuple[Effect, ...]:
    lines = run(script, seed=seed, duration=duration, options=sample_options(family))
    heard = ((Moment(line.stamp - EPOCH, line.stamp), line.direction, line.text) for line in lines)
    return tuple(effect for effect in replay(with_plans(), heard) if isinstance(effect, Effect))


def raised(effects: tuple[Effect, ...]) -> list[tuple[str, float]]:
    return [
        (effect.alarm, effect.at.elapsed)
        for effect in effects
        if isinstance(effect, AlarmChanged) and effect.transition is Transition.RAISED
    ]


@pytest.mark.parametrize("name", SAMPLES)
def test_the_byte_counter_keeps_to_the_plan_within_one_per_cent_of_the_job(name: str) -> None:
    """Progress in planned seconds is only as good as the map from bytes to seconds."""
    plan = planned(name)
    lines = run(f"at 10 s choose {name}\nat 12 s start", seed=5, duration=plan.seconds + 900)
    seen = [
        (line.stamp - EPOCH, found.byte)
        for line in lines
        if line.direction is Direction.RECEIVED
        for found in read(line.direction, line.text)
        if isinstance(found, CardProgress)
    ]
    heat_over = max(hold.at + hold.seconds for hold in plan.holds if hold.kind in ("heat", "home"))
    moving = [(at, byte) for at, byte in seen if plan.seconds_at(byte) > heat_over + 30 and byte < 0.9 * plan.size]
    begun, first = moving[0]
    offset = begun - plan.seconds_at(first)  # the warm-up is this machine's own; what counts is the pace
    errors = [at - offset - plan.seconds_at(byte) for at, byte in moving]
    assert len(moving) > 30
    assert max(map(abs, errors)) <= 0.01 * plan.seconds + 3  # s between two questions, and the reader's steps


@pytest.mark.parametrize("family", ["A", "A'", "B"])
@pytest.mark.parametrize("share", [20, 50, 75])
def test_a_freeze_is_found_within_the_plan_s_own_limit(share: int, family: str) -> None:
    """Without a plan it takes five minutes; the nozzle melts into the part meanwhile."""
    script = f"at 10 s choose oar-collar.gcode\nat 12 s start\nat {share} % of the job fault stall"
    effects = told(script, 2400.0, family)
    alarms = raised(effects)
    assert [name for name, _ in alarms][:1] == ["job-stalled"]
    plan = planned("oar-collar.gcode")
    (evidence,) = [
        effect.evidence
        for effect in effects
        if isinstance(effect, AlarmChanged) and effect.alarm == "job-stalled" and effect.transition is Transition.RAISED
    ]
    longest = max(plan.stretch_at(byte) for byte in range(0, plan.size, 2048) if plan.stretch_at(byte) < 1e6)
    assert float(str(evidence["still_for_s"])) <= 1.5 * longest * 1.2 + 62
    assert float(str(evidence["still_for_s"])) < 290


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("family", ["A", "B"])
def test_healthy_jobs_are_never_called_stalled_or_late(seed: int, family: str) -> None:
    """Two hundred jobs in all: a plan's limits are much closer than fixed ones, so they must be right."""
    script = "".join(
        f"at {start} min choose {name}\nat {start} min 5 s start\n"
        for start, name in ((0, "thumb-ring.gcode"), (15, "thumb-ring.gcode"), (30, "oar-collar.gcode"),
                            (60, "thumb-ring.gcode"), (75, "cleat-hook.gcode"))
    )  # fmt: skip
    effects = told(script, 7500.0, family, seed)
    assert raised(effects) == []
    ended = [effect.event for effect in effects if isinstance(effect, JobChanged)]
    assert ended == ["started", "completed"] * 5
    recognised = [effect for effect in effects if isinstance(effect, Noted) and effect.kind == "plan"]
    assert len(recognised) == 5
    assert {effect.facts["recognised_by"] for effect in recognised} <= {"size", "name"}


def test_a_job_at_half_speed_is_late_and_not_stalled() -> None:
    """The part will be done, but after the lesson: that is worth a word, and not a false alarm about a jam."""
    script = "at 10 s choose cleat-hook.gcode\nat 12 s start\nat 10 % of the job fault slow"
    alarms = [name for name, _ in raised(told(script, 3 * 3600.0))]
    assert alarms == ["job-late"]
