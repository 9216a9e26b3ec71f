"""What sensors beside the machine say: limits, smoke, filament there or gone; and the account of the spool."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from watchdog.core.detectors import filament_out, sensor_limit, spool_short
from watchdog.core.observations import Fault, FaultKind
from watchdog.core.snapshot import Execution, Job, Sensed, SensorKind, Snapshot

Seen = Callable[..., Snapshot]
Watched = Callable[..., Any]


def sensor(kind: SensorKind, value: float | None, **changes: Any) -> Sensed:
    return Sensed(kind.value, kind, value, None if value is None else 1000.0, value is None)._replace(**changes)


def room(value: float | None) -> Sensed:
    return sensor(SensorKind.ROOM_TEMPERATURE, value, low=12.0, high=30.0)


@pytest.mark.parametrize(("value", "answer"), [(31.0, True), (11.0, True), (30.0, False), (12.0, False), (None, None)])
def test_a_value_beyond_its_limit_is_told_when_it_stays(
    seen: Seen, watched: Watched, value: float | None, answer: bool | None
) -> None:
    watch = watched(sensor_limit)
    first = watch.see(seen(at=1000.0, sensors=(room(value),))).present
    assert first is (None if value is None else False)
    assert watch.see(seen(at=1030.0, sensors=(room(value),))).present is answer


def test_the_unit_of_the_settings_is_told_with_the_value(seen: Seen, watched: Watched) -> None:
    """21 of what? The message goes to somebody who did not set the sensor up."""
    watch = watched(sensor_limit, hold=0)
    assert watch.see(seen(sensors=(room(31.0)._replace(unit="°C"),))).evidence["measured_in"] == "°C"
    assert "measured_in" not in watch.see(seen(sensors=(room(31.0),))).evidence


def test_one_odd_value_is_none_and_begins_the_time_anew(seen: Seen, watched: Watched) -> None:
    watch = watched(sensor_limit)
    values = ((0, 31.0), (20, 29.0), (25, 31.0), (40, 31.0), (54, 31.0), (55, 31.0))
    looks = [seen(at=1000.0 + passed, sensors=(room(value),)) for passed, value in values]
    assert watch.answers(*looks) == [False, False, False, False, False, True]


def test_smoke_is_urgent_and_at_once(seen: Seen, watched: Watched) -> None:
    finding = watched(sensor_limit).see(seen(sensors=(room(20.0), sensor(SensorKind.SMOKE, 1.0, high=0.5))))
    assert (finding.present, finding.urgent, finding.evidence["sensor"]) == (True, True, "smoke")


def test_smoke_leads_where_other_sensors_are_beyond_too(seen: Seen, watched: Watched) -> None:
    watch = watched(sensor_limit)
    watch.see(seen(at=900.0, sensors=(room(40.0),)))
    finding = watch.see(seen(sensors=(room(40.0), sensor(SensorKind.SMOKE, 1.0, high=0.5))))
    assert (finding.evidence["measures"], finding.evidence["sensors_beyond"]) == ("smoke", 2)


@pytest.mark.parametrize("kind", [SensorKind.DOOR, SensorKind.HUMIDITY, SensorKind.MAINS_POWER])
def test_without_a_limit_nothing_is_judged(seen: Seen, watched: Watched, kind: SensorKind) -> None:
    """A door that opens is an event in the log."""
    assert watched(sensor_limit).see(seen(sensors=(sensor(kind, 1.0),))).present is None


def test_a_stale_smoke_sensor_is_not_normal_though_the_room_is_well(seen: Seen, watched: Watched) -> None:
    sensors = (room(20.0), sensor(SensorKind.SMOKE, None, high=0.5))
    assert watched(sensor_limit).see(seen(sensors=sensors)).present is None


def test_what_was_beyond_when_its_sensor_fell_silent_stays_so(seen: Seen, watched: Watched) -> None:
    watch = watched(sensor_limit)
    looks = [(0, 40.0), (40, 40.0), (50, None), (60, 40.0), (70, 20.0)]
    answers = watch.answers(*(seen(at=1000.0 + passed, sensors=(room(value),)) for passed, value in looks))
    assert answers == [False, True, None, True, False]


def present(value: float | None) -> tuple[Sensed, ...]:
    return (sensor(SensorKind.FILAMENT_PRESENT, value),)


def test_filament_that_a_sensor_misses_in_a_job_is_told_after_ten_seconds(seen: Seen, watched: Watched) -> None:
    watch = watched(filament_out)
    looks = [seen(at=1000.0 + passed, sensors=present(0.0)) for passed in (0, 9, 10)]
    findings = [watch.see(look) for look in looks]
    assert [finding.present for finding in findings] == [False, False, True]
    assert findings[-1].evidence["sensor"] == "filament-present"
    assert watch.see(seen(at=1011.0, sensors=present(1.0))).present is False


def test_a_bouncing_contact_and_an_empty_machine_without_a_job_are_none(seen: Seen, watched: Watched) -> None:
    watch = watched(filament_out)
    looks = [seen(at=1000.0 + passed, sensors=present(float(passed % 8 == 0))) for passed in range(60)]
    assert set(watch.answers(*looks)) == {False}
    idle = [seen(at=2000.0 + 60 * n, sensors=present(0.0), execution=Execution.READY) for n in range(3)]
    assert set(watch.answers(*idle)) == {False}


def test_a_stale_presence_sensor_cannot_tell_and_takes_nothing_back(seen: Seen, watched: Watched) -> None:
    watch = watched(filament_out)
    assert watch.see(seen(sensors=present(None))).present is None
    watch.answers(seen(at=1001.0, sensors=present(0.0)), seen(at=1020.0, sensors=present(0.0)))
    assert watch.see(seen(at=1030.0, sensors=present(None))).present is None
    assert watch.see(seen(at=1040.0, sensors=present(0.0))).present is True


def test_the_machines_own_report_counts_beside_a_sensor_that_sees_filament(seen: Seen, watched: Watched) -> None:
    report = (990.0, Fault(FaultKind.FILAMENT_OUT, "echo:busy: paused for user", None))
    finding = watched(filament_out).see(seen(sensors=present(1.0), faults=(report,)))
    assert (finding.present, finding.evidence["kind"]) == (True, "filament-out")


@pytest.mark.parametrize(
    ("needed", "left", "answer"),
    [(951.0, 1000.0, True), (950.0, 1000.0, False), (None, 1000.0, None), (951.0, None, None), (100.0, 0.0, True)],
)
def test_a_spool_is_short_when_the_job_needs_more_than_is_left_less_five_per_cent(
    seen: Seen, watched: Watched, needed: float | None, left: float | None, answer: bool | None
) -> None:
    assert watched(spool_short).see(seen(needed=needed, spool=left)).present is answer


def test_once_told_it_stays_for_the_job_unless_another_spool_is_loaded(seen: Seen, watched: Watched, job: Job) -> None:
    watch = watched(spool_short)
    second = replace(job, number=2)
    looks = (
        seen(needed=980.0, spool=1000.0),
        seen(at=1010.0, needed=10.0, spool=9.9),
        seen(at=1020.0, needed=9.0, spool=330_000.0),
        seen(at=1030.0, needed=980.0, spool=1000.0, job=second),
        seen(at=1040.0, needed=980.0, spool=1000.0, job=second, execution=Execution.STOPPED),
    )
    assert watch.answers(*looks) == [True, True, False, True, False]


def test_no_job_needs_no_filament(seen: Seen, watched: Watched) -> None:
    assert watched(spool_short).see(seen(needed=None, spool=5.0, execution=Execution.READY)).present is False
