"""Hours at which nobody is there: heat then, and jobs that run into them."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from watchdog.core.detectors import outlasts_supervision, unsupervised_hot
from watchdog.core.snapshot import Execution, Hotend, Job, Link, Snapshot
from watchdog.core.timetable import Presence

Seen = Callable[..., Snapshot]
Watched = Callable[..., Any]
NOW = 1.77e9 + 1000.0
THERE = Presence(True, NOW + 3600, None, False, None, False, (), None)
GONE = Presence(False, None, NOW + 50_000, False, None, False, (), None)
HOLIDAY = GONE._replace(holiday=True)
TROUBLE = Presence(True, None, None, False, None, False, (), "the calendar cannot be read")
IDLE: dict[str, Any] = {"execution": Execution.READY, "nozzle": (205.0, 205.0), "bed": (24.0, 0.0)}
COLD: dict[str, Any] = {"execution": Execution.READY, "nozzle": (24.0, 0.0), "bed": (24.0, 0.0), "hotend": Hotend.COLD}


def test_heat_is_told_once_it_has_stood_for_five_minutes_with_nobody_there(seen: Seen, watched: Watched) -> None:
    watch = watched(unsupervised_hot)
    looks = [seen(at=1000.0 + passed, presence=GONE, **IDLE) for passed in (0, 299, 300)]
    assert watch.answers(*looks) == [False, False, True]


def test_whoever_closes_up_and_cools_it_down_hears_nothing(seen: Seen, watched: Watched) -> None:
    watch = watched(unsupervised_hot)
    off: dict[str, Any] = {**IDLE, "nozzle": (190.0, 0.0), "hotend": Hotend.COOLING}
    looks = [seen(presence=GONE, **IDLE), seen(at=1200.0, presence=GONE, **off), seen(at=1400.0, presence=GONE, **off)]
    assert watch.answers(*looks) == [False, False, False]


@pytest.mark.parametrize(
    ("change", "answer"),
    [
        ({}, True),
        ({"execution": Execution.BUILDING}, True),
        ({"execution": Execution.BUILDING, "may_outlast": True}, False),
        ({"may_outlast": True}, True),
        ({"presence": THERE}, False),
        ({"presence": TROUBLE}, False),
        ({"presence": None}, None),
        ({**COLD}, False),
        ({**COLD, "bed": (60.0, 60.0)}, True),
        ({"link": Link.UNAVAILABLE}, None),
        ({"hotend": Hotend.UNKNOWN, "nozzle": (None, None), "bed": (None, None)}, None),
    ],
    ids=[
        "idle heat",
        "a job",
        "a job that somebody took on",
        "what is hot after it",
        "somebody is there",
        "an unreadable timetable counts as somebody there",
        "no hours are set",
        "cold",
        "the bed alone",
        "not seen",
        "nothing told",
    ],
)
def test_outside_the_hours(seen: Seen, watched: Watched, change: dict[str, Any], answer: bool | None) -> None:
    watch = watched(unsupervised_hot)
    scene = {"presence": GONE, **IDLE, **change}
    watch.see(seen(at=1000.0, **scene))
    assert watch.see(seen(at=1400.0, **scene)).present is answer


def test_a_blind_moment_takes_nothing_back(seen: Seen, watched: Watched) -> None:
    watch = watched(unsupervised_hot)
    watch.answers(seen(presence=GONE, **IDLE), seen(at=1400.0, presence=GONE, **IDLE))
    blind = seen(at=1500.0, presence=GONE, **{**IDLE, "link": Link.UNAVAILABLE})
    assert watch.answers(blind, seen(at=1600.0, presence=GONE, **IDLE)) == [None, True]


def test_on_a_holiday_any_heat_is_urgent(seen: Seen, watched: Watched) -> None:
    """Nobody walks past before it is over."""
    watch = watched(unsupervised_hot)
    watch.see(seen(presence=HOLIDAY, **IDLE))
    finding = watch.see(seen(at=1400.0, presence=HOLIDAY, **IDLE))
    assert (finding.present, finding.urgent, finding.evidence["holiday"]) == (True, True, "yes")
    plain = watch.see(seen(at=1401.0, presence=GONE, **IDLE))
    assert (plain.present, plain.urgent) == (True, False)


def ending(seen: Seen, at: float, in_s: float | None, there: Presence | None = THERE, **changes: Any) -> Snapshot:
    """A job whose upper bound of the finish lies `in_s` after `NOW`."""
    return seen(at=at, presence=there, finish_late=None if in_s is None else NOW + in_s, **changes)


def test_a_job_that_may_run_on_after_the_hours_is_told_at_once(seen: Seen, watched: Watched) -> None:
    """Then it can still be put off."""
    finding = watched(outlasts_supervision).see(ending(seen, 1000.0, 5000))
    assert finding.present
    assert (finding.evidence["hours_end_in_s"], finding.evidence["beyond_s"]) == (3600, 1400)


def test_it_follows_the_estimate_but_not_every_wavering_of_it(seen: Seen, watched: Watched) -> None:
    watch = watched(outlasts_supervision)
    bounds = (3500, 3650, 3550, 3310, 3290, 3500, 3601)
    looks = [ending(seen, 1000.0 + nth, in_s) for nth, in_s in enumerate(bounds)]
    assert watch.answers(*looks) == [False, True, True, True, False, False, True]


@pytest.mark.parametrize(
    ("change", "answer"),
    [
        ({"may_outlast": True}, False),
        ({"execution": Execution.COMPLETE}, False),
        ({"in_s": None}, None),
        ({"there": None}, None),
        ({"there": TROUBLE}, None),
        ({"there": THERE._replace(until=None)}, False),
        ({"there": GONE}, False),
        ({"execution": Execution.UNAVAILABLE}, None),
    ],
    ids=[
        "somebody took it on",
        "it is over",
        "no estimate",
        "no hours are set",
        "an unreadable timetable",
        "hours without an end",
        "begun outside the hours",
        "not seen",
    ],
)
def test_no_word_of_it(seen: Seen, watched: Watched, change: dict[str, Any], answer: bool | None) -> None:
    scene = {"at": 1000.0, "in_s": 5000, **change}
    assert watched(outlasts_supervision).see(ending(seen, **scene)).present is answer


def test_the_end_of_the_hours_is_no_all_clear(seen: Seen, watched: Watched, job: Job) -> None:
    """The job does run on with nobody there: it must not look as if all were well just then."""
    watch = watched(outlasts_supervision)
    answers = watch.answers(
        ending(seen, 1000.0, 5000), ending(seen, 4700.0, 5000, GONE), ending(seen, 4800.0, 5000, GONE, may_outlast=True)
    )
    assert answers == [True, True, False]
    other = replace(job, number=2)
    assert watched(outlasts_supervision).see(ending(seen, 4700.0, 5000, GONE, job=other)).present is False
