"""How much is left on the spool: each mm counts once, whoever tells of it."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from watchdog.core.expectation import History, prospect
from watchdog.core.outlook import Outlook
from watchdog.core.snapshot import Job, Sensed, SensorKind, Snapshot
from watchdog.core.spool import Spool, finished, followed

Look = Callable[..., Snapshot]


def outlook(used: float | None, job: int = 1) -> Outlook:
    return Outlook(job, 0.0, "a", "size", prospect(History()), None, used=used)


def motion(value: float | None) -> tuple[Sensed, ...]:
    return (Sensed("m", SensorKind.FILAMENT_MOTION, value, None, value is None),)


@pytest.fixture
def look(seen: Callable[..., Snapshot], job: Job) -> Callable[..., Snapshot]:
    """`look(flowed=…, sensor=…, number=1)`: a job that began after the spool was set."""

    def make(flowed: float = 0.0, sensor: float | None = None, number: int = 1, started: float = 100.0) -> Snapshot:
        running = replace(job, number=number, started=started)
        return seen(flowed=flowed, job=running, sensors=() if sensor is None else motion(sensor))

    return make


SET = Spool(1000.0, "lead", 50.0)


def test_a_plan_takes_from_the_spool_what_the_job_has_used(look: Look) -> None:
    spool = SET
    for used in (0.0, 120.0, 300.0):
        spool = followed(spool, look(), outlook(used))
    assert spool.left == 700.0


def test_a_plan_that_is_recognised_late_takes_what_went_before_too(look: Look) -> None:
    spool = followed(SET, look(), None)
    assert followed(spool, look(), outlook(240.0)).left == 760.0


def test_a_spool_that_is_set_in_the_middle_of_a_job_holds_what_was_said(look: Look) -> None:
    """Whoever weighs it in a job has weighed what is left."""
    spool = Spool(1000.0, "lead", 150.0)
    for used in (400.0, 450.0):
        spool = followed(spool, look(), outlook(used))
    assert spool.left == 950.0


def test_without_a_plan_the_wire_tells(look: Look) -> None:
    spool = SET
    for flowed in (500.0, 530.0, 610.0):
        spool = followed(spool, look(flowed=flowed), None)
    assert spool.left == 890.0


def test_what_the_wire_told_is_not_taken_again_when_the_plan_is_known(look: Look) -> None:
    spool = followed(SET, look(flowed=0.0), None)
    spool = followed(spool, look(flowed=80.0), None)
    assert spool.left == 920.0
    assert followed(spool, look(flowed=90.0), outlook(90.0)).left == 910.0


def test_a_wheel_that_turns_either_way_does_not_take_what_is_drawn_back_and_fed_again(look: Look) -> None:
    """A job with a thousand retractions would empty a spool that is half full: seven false alarms in a simulated term."""
    spool = followed(SET, look(flowed=0.0, sensor=7000.0), outlook(0.0))
    spool = followed(spool, look(flowed=0.0, sensor=7180.0), outlook(100.0))
    assert spool.left == 900.0
    spool = followed(spool, look(flowed=60.0, sensor=7300.0), None)  # no plan: by the wire
    assert spool.left == 840.0
    spool = followed(spool, look(flowed=60.0, sensor=7320.0), None)  # nor that: by the sensor
    assert spool.left == 820.0


def test_a_sensor_that_begins_anew_at_nothing_takes_only_what_it_has_counted_since(look: Look) -> None:
    spool = followed(SET, look(sensor=7000.0), None)
    assert followed(spool, look(sensor=30.0), None).left == 970.0


def test_the_next_job_begins_at_its_own_first_millimetre(look: Look) -> None:
    spool = followed(followed(SET, look(), outlook(0.0)), look(), outlook(400.0))
    spool = finished(spool, 1, 410.0)
    assert spool.left == 590.0
    assert followed(spool, look(number=2, started=900.0), outlook(25.0, job=2)).left == 565.0


def test_no_account_falls_below_nothing(look: Look) -> None:
    assert followed(SET, look(), outlook(5000.0)).left == 0.0
