"""What a job came to: what cannot be told stays unknown, and what can agrees with the plan and the wire."""

from array import array
from dataclasses import replace
from math import pi
from typing import Any

import pytest

from watchdog.core.alarms.table import TABLE
from watchdog.core.detectors import MACHINE
from watchdog.core.effects import JobChanged
from watchdog.core.events import Tick
from watchdog.core.expectation import Prospect
from watchdog.core.machine import Limits as MachineLimits
from watchdog.core.moment import Moment
from watchdog.core.outlook import JobFile, Outlook
from watchdog.core.plan import Plan
from watchdog.core.snapshot import Job, Origin, Snapshot, Source
from watchdog.core.step import Armed, Watch, World, begin, look, step
from watchdog.record.batch import JobSummary
from watchdog.service.summing import Course, Stock, followed, grams, summaries

PLA = Stock("PLA", 1.24, 1.75)
PLAN = Plan(
    5000, "d1gest", 500.0, 500.0, 2000.0, 100, array("I", [0, 5000]).tobytes(), array("d", [0.0, 500.0]).tobytes(),
    array("f", [0.0, 2000.0]).tobytes(), b"", b"", 1.0, (), (0,), (), (), (), 0, (), 0, 0.0,
)  # fmt: skip
WATCH = Watch(
    "doorway-1",
    Source.SERIAL,
    MachineLimits(),
    tuple(Armed(detector, detector.Limits()) for detector in MACHINE),
    {detector.NAME: TABLE[detector.NAME] for detector in MACHINE},
    files=(JobFile("cleat-hook.gcode", PLAN),),
)
JOB = Job(3, Origin.CARD, "CLEAT~1.GCO", 5000, 100.0, 1.77e9, progress=2500, building_since=150.0, heating=40.0)


def at(elapsed: float) -> Moment:
    return Moment(stamp=1.77e9 + elapsed, elapsed=elapsed)


def world(**changes: Any) -> World:
    made, _ = step(WATCH, begin(WATCH, at(0)), Tick(at(1)))
    return made._replace(**changes)


def seen(job: Job | None = JOB, **changes: Any) -> Snapshot:
    return replace(look(WATCH, world(), at(400)), job=job, **changes)


def known() -> Outlook:
    nothing = Prospect.__new__(Prospect)  # what was known before is of no matter here
    return Outlook(3, 390.0, "d1gest", "size", nothing, None)


def ended(event: str = "completed", elapsed: float = 600.0) -> JobChanged:
    return JobChanged(at(700), event, 3, "CLEAT~1.GCO", 5000, "card", elapsed)


def summed(course: Course | None, job: Job, end: JobChanged, **changes: Any) -> JobSummary:
    (summary,) = summaries(course, PLA, WATCH, world(**changes), seen(job), (end,))
    return summary


def test_the_filament_of_a_card_job_is_what_its_plan_asks_for_up_to_the_byte_that_was_read() -> None:
    course = followed(None, WATCH, world(outlook=known()), seen())
    assert course is not None
    assert (course.digest, course.filament) == ("d1gest", 1000.0)
    over = replace(JOB, ended=700.0, ending="abandoned")
    assert summed(course, over, ended("abandoned")).filament_mm == 1000.0
    whole = replace(JOB, ended=700.0, ending="completed")
    assert summed(course, whole, ended()).filament_mm == 2000.0


def test_filament_is_weighed_by_its_section_and_density() -> None:
    """1 m of 1.75 mm at 1.24 g/cm³: π/4 · 0.175² · 100 · 1.24 g, by hand 2.983 g."""
    assert grams(1000.0, PLA) == pytest.approx(pi / 4 * 0.175**2 * 100 * 1.24)
    assert grams(1000.0, PLA) == pytest.approx(2.983, abs=5e-4)


def test_time_out_of_sight_and_held_time_do_not_count_as_active() -> None:
    over = replace(JOB, ended=700.0, ending="completed", held=50.0)
    summary = summed(None, over, ended(), blind=150.0)
    assert (summary.seconds, summary.held, summary.active, summary.heating) == (600.0, 50.0, 400.0, 40.0)


def test_a_job_of_which_nothing_is_known_leaves_everything_else_open() -> None:
    over = replace(JOB, ended=700.0, ending="lost", progress=None)
    summary = summed(None, over, ended("abandoned"))
    assert summary.ending == "lost"
    assert (summary.digest, summary.planned, summary.filament_mm, summary.filament_g) == (None, None, None, None)


def test_a_streamed_job_is_measured_by_what_was_fed_since_it_began() -> None:
    streamed = replace(JOB, origin=Origin.STREAMED, file=None, size=None)
    course = followed(None, WATCH, world(), seen(streamed, flowed=700.0))
    later = followed(course, WATCH, world(), seen(streamed, flowed=950.0))
    assert later is not None
    assert later.filament == 250.0


def test_what_was_expected_is_what_was_said_first() -> None:
    first = followed(None, WATCH, world(), seen(replace(JOB, expected=600.0, expected_by="operator")))
    later = followed(first, WATCH, world(), seen(replace(JOB, expected=900.0, expected_by="machine")))
    assert later is not None
    assert (later.planned, later.by) == (600.0, "operator")


def test_another_job_begins_its_own_account() -> None:
    course = followed(None, WATCH, world(outlook=known()), seen())
    second = followed(course, WATCH, world(), seen(replace(JOB, number=4)))
    assert second is not None
    assert (second.number, second.digest) == (4, None)
    assert followed(second, WATCH, world(), seen(None)) is second
