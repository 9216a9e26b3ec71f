"""What holds for every detector: names, limits, memories, and a healthy job."""

from collections.abc import Callable
from dataclasses import fields, is_dataclass
from typing import Any

import pytest
from pydantic import TypeAdapter

from watchdog.core.detectors import ALL, MACHINE, WATCH, hot_idle, temperature_implausible, watch_impaired
from watchdog.core.detectors.heat_runaway import Memory as RunawayMemory
from watchdog.core.detectors.heat_runaway import Trace as RunawayTrace
from watchdog.core.detectors.temperature_implausible import Trace as SensorTrace
from watchdog.core.materials import MATERIALS, hot_idle_limits
from watchdog.core.snapshot import Execution, Heater, Link, Snapshot

Seen = Callable[..., Snapshot]
Watched = Callable[..., Any]

EACH = pytest.mark.parametrize("detector", ALL, ids=lambda detector: detector.NAME)


def test_the_conditions_are_those_of_the_alarm_table() -> None:
    assert {detector.NAME for detector in ALL} == {
        "hot-idle", "job-not-started", "job-stalled", "job-late", "silent-hot", "link-lost", "silent",
        "controller-restarted", "controller-halted", "heat-runaway", "heating-stalled", "heat-not-holding",
        "temperature-implausible", "waiting-for-person", "card-fault", "watch-impaired",
        "extruding-in-place", "filament-out", "link-errors", "host-suspended",
        "feed-slipping", "flow-lost", "spool-short", "unsupervised-hot", "outlasts-supervision", "sensor-limit",
    }  # fmt: skip
    assert (*MACHINE, *WATCH) == ALL
    assert (watch_impaired,) == WATCH
    assert len(ALL) == 26


@EACH
def test_every_limit_has_a_unit_a_reason_and_a_default_within_its_bounds(detector: Any) -> None:
    assert is_dataclass(detector.Limits)
    for field in fields(detector.Limits):
        facts = field.metadata
        assert facts["unit"]
        assert len(facts["why"]) > 10
        assert facts["least"] <= field.default <= facts["most"], field.name


@EACH
def test_a_healthy_job_raises_nothing_and_leaves_the_memory_alone(seen: Seen, watched: Watched, detector: Any) -> None:
    """The usual answer is worked out thousands of times an hour: it builds nothing new."""
    watch = watched(detector)
    watch.see(seen(at=1000.0))
    kept = watch.memory
    findings = [watch.see(seen(at=1000.0 + at)) for at in range(1, 100)]
    assert watch.memory is kept
    # Nobody said how long it takes, nobody tells positions of a card job, there are no sensors, no hours, no spool, no plan.
    untold = {"job-late", "extruding-in-place", "feed-slipping", "flow-lost", "spool-short", "unsupervised-hot"}
    expected = None if detector.NAME in untold | {"outlasts-supervision", "sensor-limit"} else False
    assert {finding.present for finding in findings} == {expected}
    assert all(not finding.evidence for finding in findings)


@EACH
def test_the_same_arguments_give_the_same_answer(seen: Seen, detector: Any) -> None:
    limits, memory = detector.Limits(), detector.Memory()
    for frame in (seen(), seen(execution=Execution.READY), seen(link=Link.UNAVAILABLE)):
        assert detector.observe(limits, memory, frame) == detector.observe(limits, memory, frame)


@EACH
def test_every_memory_survives_being_stored(seen: Seen, watched: Watched, detector: Any) -> None:
    """A watch that forgets over a restart raises again what was acknowledged."""
    kept = TypeAdapter(detector.Memory)
    watch = watched(detector)
    memories = [watch.memory]
    for at, celsius in enumerate((205.0, 190.0, 190.0, 60.0, 60.0, 240.0, 240.0, -15.0, -15.0, 205.0)):
        moment = 1000.0 + 40 * at
        nozzle = Heater(celsius, 205.0, 90, 127, moment, 205.0, moment - 2, 0.0)
        state = Execution.READY if at % 2 else Execution.BUILDING
        heard = None if at == 5 else moment - 30 * (at % 3)
        watch.see(
            seen(at=moment, nozzle=nozzle, execution=state, heard=heard, owed_since=heard, byte_fell_at=1000.0,
                 restarted_at=1000.0, restart_broke=True, chosen_at=900.0)
        )  # fmt: skip
        memories.append(watch.memory)
    for memory in memories:
        thawed = kept.validate_json(kept.dump_json(memory))
        assert thawed == memory
        assert type(thawed) is type(memory)


def test_full_memories_survive_being_stored() -> None:
    for memory in (
        hot_idle.Memory(12.5, 2.5, 100.0, 200.0, 640.0, 3.0, 1.0, 199.0, 630.0),
        temperature_implausible.Memory(
            SensorTrace(True, 1.0, "jumped", 2.0, 205.0, 3.0, (1.0, 2.0), 4.0, 10, 90), SensorTrace()
        ),
        RunawayMemory(RunawayTrace(100.0, 5.0, 120.0), RunawayTrace()),
    ):
        kept: TypeAdapter[Any] = TypeAdapter(type(memory))
        assert kept.validate_json(kept.dump_json(memory)) == memory


@pytest.mark.parametrize("material", MATERIALS.values(), ids=lambda material: material.name)
def test_every_material_is_consistent_and_says_where_it_is_from(material: Any) -> None:
    low, high = material.window
    assert material.glass_transition < material.melts_at <= low
    assert low <= material.reference <= high
    assert 0.9 < material.density < 1.5
    for field in fields(material):
        if field.name.endswith("_from"):
            assert getattr(material, field.name)


def test_the_defaults_of_hot_idle_are_those_of_pla() -> None:
    assert hot_idle_limits(MATERIALS["PLA"]) == hot_idle.Limits()
    assert hot_idle_limits(MATERIALS["PETG"], hot_idle.Limits(floor=60)) == hot_idle.Limits(
        activation=134, reference=240, glass_transition=80, floor=60
    )
