"""What `status` says of the broker, of the computer and of sensors, from the service's own answer."""

from typing import Any

import pytest

from watchdog.cli.status import lines
from watchdog.cli.status_watch import computer, network
from watchdog.host.vitals import Vitals

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
    heater = {"now": 24.0, "target": 0.0, "power": None}
    machine: dict[str, Any] = {"machine": "doorway-1", "execution": "ready", "execution_for_s": 60, "heard_ago_s": 1.0}
    machine |= {"link": "available", "nozzle": heater, "bed": heater, "hotend": "cold", "job": None, "alarms": []}
    machine |= {"usual": [], "unparsed": 0, "dropped": 7, "sensors": [{**sensor, "stale": False, **change}]}
    watch: dict[str, Any] = {"people": [], "job_files": None, "impairments": [], "alarms": []}
    shown = lines({"machines": [machine], "watch": watch, "running_for_s": 60})
    (line,) = [line for line in shown if line.startswith("  sensor ")]
    assert words in line
    assert "  traffic    7 lines let go: more came than could be looked at" in shown
