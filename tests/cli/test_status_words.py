"""What `status` says of the broker, of the computer and of sensors, from the service's own answer."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from watchdog.cli.status import lines
from watchdog.cli.status_watch import computer, network, people
from watchdog.host.vitals import Vitals

LISBON, HALIFAX = ZoneInfo("Europe/Lisbon"), ZoneInfo("America/Halifax")
AWAY = {"broker": "broker.example.org:8883", "connected": False, "waiting": 12, "dropped": {"state": 3, "news": 1}}


def test_a_broker_that_is_away_says_what_waits_and_what_was_let_go() -> None:
    assert network(AWAY) == ["broker     broker.example.org:8883: not connected, 12 messages wait, 4 let go"]
    assert network(AWAY | {"connected": True, "waiting": 0, "dropped": {}}) == [
        "broker     broker.example.org:8883: connected"
    ]
    assert network(None) == []


def test_of_a_computer_that_tells_little_little_is_said() -> None:
    """A load of 0.0 that nobody has measured would be a lie."""
    assert computer(Vitals()._asdict()) == ["computer   clock: cannot tell"]
    assert computer(None) == []


def test_what_is_wrong_with_a_computer_stands_in_its_line() -> None:
    seen = Vitals(14_230_000_000, 812_000_000, 10**9, 0.4, False, True, None, None, True)
    assert computer(seen._asdict()) == [
        "computer   14.2 GB of disk free, 812 MB of memory free, load 0.4 a processor, nothing keeps the clock right, "
        "supply voltage too low, an update waits for a restart"
    ]


def idle() -> dict[str, Any]:
    """A machine at rest, as the service answers."""
    heater = {"now": 24.0, "target": 0.0, "power": None}
    machine: dict[str, Any] = {"machine": "doorway-1", "execution": "ready", "execution_for_s": 60, "heard_ago_s": 1.0}
    machine |= {"link": "available", "nozzle": heater, "bed": heater, "hotend": "cold", "job": None, "alarms": []}
    return machine | {"usual": [], "unparsed": 0, "dropped": 0, "sensors": []}


def answer(machine: dict[str, Any]) -> dict[str, Any]:
    """The whole answer with one machine."""
    watch: dict[str, Any] = {"people": [], "job_files": None, "impairments": [], "alarms": []}
    return {"at": "2026-07-06T11:31:07.000Z", "machines": [machine], "watch": watch, "running_for_s": 60}


def test_what_is_shelved_or_out_of_service_says_until_when_by_whom_and_why() -> None:
    """Whoever comes next must see at a glance that nothing would be said, and whom to ask."""
    shelf = {"shelved_for_s": 7140, "shelved_by": "workshop lead", "shelved_why": "cable"}
    alarm = {"id": "doorway-1/silent", "priority": "low", **shelf}
    away = {"out_of_service_for_s": 3540, "out_of_service_by": "workshop lead", "out_of_service_why": ""}
    shown = lines(answer(idle() | away | {"alarms": [alarm]}), LISBON)
    assert "  repair     out of service for another 59 min, by workshop lead: no reason given" in shown
    assert "  ○ SHELVED  doorway-1/silent  comes back in 1 h 59 min, by workshop lead: cable" in shown


@pytest.mark.parametrize(("zone", "done"), [(LISBON, "done about 13:00"), (HALIFAX, "done about 09:00")])
def test_times_are_those_of_the_settings_zone(zone: ZoneInfo, done: str) -> None:
    """A small computer often runs on UTC; the clock on the wall does not."""
    job: dict[str, Any] = {
        "origin": "card",
        "elapsed_s": 60,
        "held_s": 0,
        "size": None,
        "progress": None,
        "ended": None,
    }
    job |= {"expected_s": 3600, "expected_by": "plan", "left_s": 3540, "finish": "2026-07-06T12:00:00.000Z"}
    job |= {"finish_at_the_latest": "2026-07-06T12:20:00.000Z", "may_outlast": True}
    (line,) = [line for line in lines(answer(idle() | {"job": job}), zone) if line.startswith("  job ")]
    assert done in line
    assert line.endswith("allowed to run on after the hours")


def test_hours_and_ladders_are_told_in_words() -> None:
    at = datetime(2026, 7, 6, 12, 31, tzinfo=LISBON)
    hours = {"supervised": False, "until": None, "next": "2026-07-06T13:00:00.000Z", "lesson_until": None}
    first: dict[str, Any] = {"after_s": 0, "people": ["workshop-lead"], "loud": False, "waits_until": None}
    late = {"after_s": 900, "people": ["duty-warden"], "loud": True, "waits_until": "2026-07-13T12:00:00.000Z"}
    load = {"in_lessons": 0, "outside_lessons": 1}
    told: dict[str, Any] = {"hours": hours | {"holiday": True, "on_duty": [], "trouble": None}}
    told |= {"ladders": {"low": [first, late]}, "burden": {"duty-warden": load}}
    assert people(told, at) == [
        "hours      nobody is there until Mon 14:00",
        "           a holiday: any heat is urgent",
        "low        workshop-lead; after 15 min duty-warden, loud (at Mon 13 Jul 13:00)",
        "today      duty-warden: 1 message",
    ]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({}, "air (room-temperature)  21.5 °C · heard 3 s ago"),
        ({"value": None, "stale": True, "heard_ago_s": 720.0}, "not known: quiet for too long · heard 12 min ago"),
        ({"value": None, "heard_ago_s": None}, "not known · nothing heard yet"),
        ({"measures": "door", "value": 1.0, "unit": ""}, "open · heard"),
        ({"measures": "filament-present", "value": 0.0, "unit": ""}, "gone · heard"),
        ({"measures": "smoke", "value": 0.0, "unit": ""}, "no smoke · heard"),
        ({"measures": "smoke", "value": 0.03, "unit": "mg/m³"}, "0.03 mg/m³ · heard"),
    ],
)
def test_a_sensor_is_told_with_its_value_and_how_old_it_is(change: dict[str, Any], words: str) -> None:
    sensor = {"sensor": "air", "measures": "room-temperature", "value": 21.5, "unit": "°C", "heard_ago_s": 3.0}
    machine = idle() | {"dropped": 7, "sensors": [{**sensor, "stale": False, **change}]}
    shown = lines(answer(machine), LISBON)
    (line,) = [line for line in shown if line.startswith("  sensor ")]
    assert words in line
    assert "  traffic    7 lines let go: more came than could be looked at" in shown
