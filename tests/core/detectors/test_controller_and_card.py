"""Controller restarted, controller halted, card fault, watch impaired."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from watchdog.core.alarms.table import TABLE
from watchdog.core.detectors import (
    card_fault,
    controller_halted,
    controller_restarted,
    heat_runaway,
    heating_stalled,
    temperature_implausible,
    watch_impaired,
)
from watchdog.core.effects import Priority
from watchdog.core.observations import Fault, FaultKind
from watchdog.core.snapshot import Execution, Job, Link, Origin, Snapshot

Seen = Callable[..., Snapshot]
Watched = Callable[..., Any]

IDLE = {"execution": Execution.READY, "nozzle": (120.0, 0.0)}
READ_ERROR = Fault(FaultKind.CARD_READ, "SD read error")


def banner(seen: Seen, at: float, job: Job, **changes: Any) -> Snapshot:
    """The banner came at 1000 s, in a job."""
    lost = replace(job, moved_at=990.0, ended=1000.0, ending="lost")
    told = {"restarted_at": 1000.0, "restart_broke": True, "reset_cause": "brown-out", "job": lost}
    return seen(at=at, **{**IDLE, **told, **changes})


def test_a_restart_that_breaks_a_job_is_told_at_once(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(controller_restarted)
    finding = watch.see(banner(seen, 1000.0, job))
    assert finding.present is True
    assert finding.evidence["cause"] == "brown-out"


def test_a_restart_of_an_idle_machine_is_none(seen: Seen, watched: Watched, job: Job) -> None:
    assert watched(controller_restarted).see(banner(seen, 1000.0, job, restart_broke=False)).present is False
    assert watched(controller_restarted).see(seen()).present is False


def test_it_stands_for_half_an_hour_and_is_told_once(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(controller_restarted)
    answers = watch.answers(*(banner(seen, 1000.0 + at, job) for at in range(0, 5000, 10)))
    assert answers == [True] * 180 + [False] * 320


def test_the_next_job_brings_it_back(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(controller_restarted)
    watch.see(banner(seen, 1000.0, job))
    following = {"restarted_at": 1000.0, "restart_broke": True}
    assert watch.see(seen(at=1200.0, job=replace(job, number=2, started=1190.0), **following)).present is False
    assert watch.see(seen(at=1500.0, execution=Execution.COMPLETE, **following)).present is False


def test_neither_the_broken_job_nor_a_missing_one_brings_it_back(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(controller_restarted)
    for other in (job, None, replace(job, number=2, started=1190.0, ended=1195.0)):
        told = {"restarted_at": 1000.0, "restart_broke": True, "job": other}
        assert watch.see(seen(at=1200.0, **IDLE, **told)).present is True


def test_a_second_banner_belongs_to_the_same_occurrence(seen: Seen, watched: Watched, job: Job) -> None:
    """A supply that dips again and again is one message, not a row of them."""
    watch = watched(controller_restarted)
    watch.see(banner(seen, 1000.0, job))
    second = watch.see(banner(seen, 1300.0, job, restarted_at=1290.0, restart_broke=False))
    assert second.present is True
    assert second.evidence["restarts"] == 2
    assert watch.see(banner(seen, 3000.0, job, restarted_at=1290.0, restart_broke=False)).present is True
    assert watch.see(banner(seen, 3090.0, job, restarted_at=1290.0, restart_broke=False)).present is False


@pytest.mark.parametrize("detector", [controller_restarted, controller_halted, card_fault])
def test_a_silent_controller_is_not_called_well(seen: Seen, watched: Watched, detector: Any) -> None:
    assert watched(detector).see(seen(at=1000.0, heard=900.0)).present is None
    assert watched(detector).see(seen(at=1000.0, link=Link.UNAVAILABLE)).present is None
    assert watched(detector).see(seen(at=1000.0, heard=None)).present is None
    assert watched(detector).see(seen(at=1000.0)).present is False


@pytest.mark.parametrize(
    "fault",
    [
        Fault(FaultKind.HALT, "kill() called"),
        Fault(FaultKind.STOPPED, "stopped due to errors"),
        Fault(FaultKind.LOCKED, "locked"),
        Fault(FaultKind.CONTROLLER, "watchdog timeout. reset required", halted=True),
    ],
)
def test_every_kind_of_halt_is_told_and_stands_through_the_silence(seen: Seen, watched: Watched, fault: Fault) -> None:
    """After a halt some controllers never speak again: that silence must not look like 'over'."""
    watch = watched(controller_halted)
    assert watch.see(seen(at=1000.0, faults=((1000.0, fault),))).present is True
    later = watch.see(seen(at=2000.0, heard=1000.0, faults=((1000.0, fault),)))
    assert later.present is True
    assert later.evidence["kind"] == fault.kind.value
    assert watch.see(seen(at=2100.0, restarted_at=2100.0)).present is False


def test_a_fault_that_halts_nothing_is_no_halt(seen: Seen, watched: Watched) -> None:
    faults = ((1000.0, Fault(FaultKind.COLD_EXTRUSION, "cold extrusion prevented")), (1000.0, READ_ERROR))
    assert watched(controller_halted).see(seen(at=1000.0, faults=faults)).present is False


HALTED = Fault(FaultKind.HALT, "Printer halted. kill() called!")


@pytest.mark.parametrize(
    ("kind", "detector", "halted"),
    [
        (FaultKind.RUNAWAY, heat_runaway, True),
        (FaultKind.HEATING_FAILED, heating_stalled, True),
        (FaultKind.HEAT_MODEL, heating_stalled, False),
        (FaultKind.SENSOR_LOW, temperature_implausible, True),
        (FaultKind.SENSOR_HIGH, temperature_implausible, False),
    ],
)
def test_a_halt_for_a_heater_is_told_once_and_names_the_heater(
    seen: Seen, watched: Watched, kind: FaultKind, detector: Any, halted: bool
) -> None:
    """Two urgent messages of one cause: people would look for a second fault. The halt makes the heater's own urgent."""
    cause = Fault(kind, "said", "nozzle", halted=halted)
    faults: tuple[tuple[float, Fault], ...] = (
        (1000.0, cause),
        (1002.0, HALTED),
        (1200.0, Fault(FaultKind.LOCKED, "no")),
    )
    frame = seen(at=1200.0, faults=faults)
    assert watched(controller_halted).see(frame).present is False
    finding = watched(detector).see(frame)
    assert finding.present is True
    assert finding.evidence["heater"] == "nozzle"
    assert finding.urgent or TABLE[detector.NAME].priority is Priority.URGENT


def test_a_halt_long_after_a_heaters_fault_is_one_of_its_own(seen: Seen, watched: Watched) -> None:
    """The machine went on without heat; later somebody stopped it, for a reason that nobody has told yet."""
    cause = Fault(FaultKind.SENSOR, "extruder 0: temp sensor defect", "nozzle")
    for at, present in ((1030.0, False), (1031.0, True)):
        frame = seen(at=at, faults=((1000.0, cause), (at, HALTED)))
        assert watched(controller_halted).see(frame).present is present


def test_a_heating_failure_that_halts_nothing_is_not_urgent(seen: Seen, watched: Watched) -> None:
    frame = seen(faults=((1000.0, Fault(FaultKind.HEATING_FAILED, "said", "bed")),))
    assert watched(heating_stalled).see(frame).urgent is False


# ---------------------------------------------------------------- card


def test_a_read_error_in_a_job_is_told(seen: Seen, watched: Watched) -> None:
    finding = watched(card_fault).see(seen(at=1000.0, faults=((1000.0, READ_ERROR),)))
    assert finding.present is True
    assert finding.urgent is False


def test_three_errors_in_a_minute_are_urgent_and_stay_so(seen: Seen, watched: Watched) -> None:
    watch = watched(card_fault)
    slow = tuple((at, READ_ERROR) for at in (900.0, 940.0, 980.0))
    assert watch.see(seen(at=1000.0, faults=slow)).urgent is False
    loop = (*slow, (990.0, READ_ERROR), (995.0, READ_ERROR))
    assert watch.see(seen(at=1000.0, faults=loop)).urgent is True
    assert watch.see(seen(at=1001.0, faults=slow)).urgent is True


def test_an_error_after_which_answers_stop_while_hot_is_urgent(seen: Seen, watched: Watched) -> None:
    """In published cases the heater outputs then stay as they were."""
    faults = ((1000.0, READ_ERROR),)
    watch = watched(card_fault)
    assert watch.see(seen(at=1019.0, heard=1000.0, faults=faults)).urgent is False
    assert watch.see(seen(at=1020.0, heard=1000.0, faults=faults)).urgent is True
    cold = watched(card_fault).see(seen(at=1020.0, heard=1000.0, faults=faults, heat_when_lost=False))
    assert (cold.present, cold.urgent) == (True, False)


@pytest.mark.parametrize("sign", [{"byte_fell_at": 1000.0}, {"card_gone_at": 1000.0}])
def test_a_counter_that_runs_back_and_a_card_that_goes_are_told(
    seen: Seen, watched: Watched, sign: dict[str, float]
) -> None:
    assert watched(card_fault).see(seen(at=1000.0, **sign)).present is True


def test_what_happens_to_a_card_outside_a_job_is_no_alarm(seen: Seen, watched: Watched, job: Job) -> None:
    faults = ((1000.0, READ_ERROR),)
    over = replace(job, ended=900.0, ending="completed")
    later = replace(job, number=2, started=1010.0)
    streamed = replace(job, origin=Origin.STREAMED)
    for other in (over, later, streamed, None):
        assert watched(card_fault).see(seen(at=1020.0, faults=faults, job=other)).present is False


def test_the_error_that_ends_a_job_is_still_its_error(seen: Seen, watched: Watched, job: Job) -> None:
    ended = replace(job, ended=1000.0, ending="abandoned")
    for at, present in ((1000.5, True), (1010.0, True), (1011.0, False)):
        gone = ((at, Fault(FaultKind.CARD_GONE, "SD card released")),)
        frame = seen(at=1012.0, faults=gone, job=ended, execution=Execution.STOPPED)
        assert watched(card_fault).see(frame).present is present


def test_a_card_fault_returns_ten_minutes_after_its_last_sign_while_the_machine_answers(
    seen: Seen, watched: Watched
) -> None:
    watch = watched(card_fault)
    faults = ((1000.0, READ_ERROR),)
    assert watch.answers(*(seen(at=at, faults=faults) for at in (1000.0, 1599.0, 1600.0))) == [True, True, False]
    assert watch.see(seen(at=1700.0, heard=1600.0, faults=faults)).present is True


def test_a_card_fault_stands_from_its_last_sign(seen: Seen, watched: Watched) -> None:
    signs = {"faults": ((1000.0, READ_ERROR),), "byte_fell_at": 1500.0}
    finding = watched(card_fault).see(seen(at=2099.0, **signs))
    assert finding.present is True
    assert (finding.evidence["sign"], finding.evidence["since_s"], finding.evidence["last_s"]) == (
        "counter ran back",
        1099,
        599,
    )
    assert watched(card_fault).see(seen(at=2100.0, **signs)).present is False


# ---------------------------------------------------------------- the watch itself


def test_the_watch_tells_what_keeps_it_from_its_work(seen: Seen, watched: Watched) -> None:
    watch = watched(watch_impaired)
    assert watch.see(seen()).present is False
    finding = watch.see(seen(impairments=("no route delivers", "disk nearly full")))
    assert finding.present is True
    assert finding.evidence == {"count": 2, "reasons": "no route delivers; disk nearly full"}
    assert watch.see(seen()).present is False
