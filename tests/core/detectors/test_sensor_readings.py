"""What sensors beside the machine are worth, and how their messages are read."""

import json
from collections.abc import Callable
from dataclasses import replace
from math import isfinite
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.core.events import Measured
from watchdog.core.moment import Moment
from watchdog.core.payload import DEEPEST, LONGEST, is_pointer, read_payload
from watchdog.core.sensors import HEATS, Reading, SensorSpec, measured, power_contradicts, sensed, stale_sentences
from watchdog.core.snapshot import Execution, Heater, Sensed, SensorKind, Snapshot

MOTION = SensorSpec("loft-1-motion", SensorKind.FILAMENT_MOTION, stale_after=30.0)
DOOR = SensorSpec("loft-1-door", SensorKind.DOOR, stale_after=3600.0)
METER = SensorSpec("loft-1-meter", SensorKind.MAINS_POWER)
SPECS = (MOTION, DOOR, METER)


def said(sensor: str, value: float | None, at: float) -> Measured:
    return Measured(Moment(at, 1.77e9 + at), sensor, value)


def heard(*events: Measured) -> tuple[Reading, ...]:
    readings: tuple[Reading, ...] = ()
    for event in events:
        readings, _ = measured(SPECS, readings, event)
    return readings


def test_a_reading_counts_for_as_long_as_its_sensor_may_be_quiet_and_no_longer() -> None:
    """The last value dressed as a new one hides a fault."""
    readings = heard(said("loft-1-motion", 12.5, 100.0))
    assert sensed([MOTION], readings, 130.0, 0.0)[0][2:5] == (12.5, 100.0, False)
    assert sensed([MOTION], readings, 130.1, 0.0)[0][2:5] == (None, None, True)


def test_after_a_blind_time_a_sensor_has_its_time_anew_but_its_old_value_counts_for_nothing() -> None:
    readings = heard(said("loft-1-motion", 12.5, 100.0))
    assert sensed([MOTION], readings, 1010.0, 1000.0)[0][2:5] == (None, None, False)
    assert sensed([MOTION], readings, 1031.0, 1000.0)[0][2:5] == (None, None, True)


def test_a_sensor_that_never_spoke_is_stale_after_its_time() -> None:
    assert not sensed([MOTION], (), 30.0, 0.0)[0].stale
    assert sensed([MOTION], (), 31.0, 0.0)[0].stale


def test_a_sensor_that_says_that_it_cannot_tell_is_not_stale() -> None:
    found = sensed([MOTION], heard(said("loft-1-motion", None, 100.0)), 110.0, 0.0)[0]
    assert (found.value, found.at, found.stale) == (None, None, False)


def test_each_stale_sensor_is_named_with_what_to_do() -> None:
    sentences = stale_sentences(sensed(SPECS, heard(said("loft-1-door", 0.0, 90.0)), 100.0, 0.0))
    assert sentences == (
        "sensor loft-1-motion (filament-motion) has said nothing for too long. Look at the sensor, its power and the network.",
    )


def test_a_sensor_that_is_not_set_up_changes_nothing() -> None:
    readings = heard(said("loft-1-door", 0.0, 1.0))
    assert measured(SPECS, readings, said("attic", 1.0, 2.0)) == (readings, None)


def test_a_door_that_opens_is_noted_and_one_that_bounces_is_not() -> None:
    readings = heard(said("loft-1-door", 0.0, 1.0))
    readings, change = measured(SPECS, readings, said("loft-1-door", 1.0, 10.0))
    assert change == ("closed", "open")
    readings, change = measured(SPECS, readings, said("loft-1-door", 1.0, 12.0))
    assert change is None
    readings, change = measured(SPECS, readings, said("loft-1-door", 0.0, 13.0))
    assert change == ("open", "closed")
    for nth in range(9):
        readings, change = measured(SPECS, readings, said("loft-1-door", float(not nth % 2), 13.5 + nth / 2))
        assert change is None


@given(
    st.lists(
        st.tuples(st.sampled_from(["loft-1-motion", "loft-1-door", "loft-1-meter", "?"]), st.none() | st.floats(0, 2e3))
    )
)
def test_any_readings_in_any_order_keep_one_for_each_sensor(events: list[tuple[str, float | None]]) -> None:
    readings = heard(*(said(name, value, float(nth)) for nth, (name, value) in enumerate(events)))
    last = {name: value for name, value in events if name != "?"}
    assert {reading.sensor: reading.value for reading in readings} == last
    assert all(reading.since <= reading.at for reading in readings)


def powered(watts: float | None, since: float = 0.0) -> tuple[Sensed, ...]:
    return (Sensed("loft-1-meter", SensorKind.MAINS_POWER, watts, 1000.0, watts is None, since=since),)


OFF = Heater(180.0, 0.0, 0, 127, 1000.0, 181.0, 998.0, target_since=900.0)


@pytest.mark.parametrize(
    ("change", "answer"),
    [
        ({}, True),
        ({"sensors": powered(HEATS - 1)}, False),
        ({"sensors": powered(60.0, since=970.0)}, False),
        ({"sensors": powered(None)}, None),
        ({"sensors": ()}, None),
        ({"execution": Execution.BUILDING}, False),
        ({"execution": Execution.UNAVAILABLE}, None),
        ({"bed": (60.0, 60.0)}, False),
        ({"nozzle": replace(OFF, target_since=960.0)}, False),
        ({"nozzle": (180.0, None), "bed": (50.0, None)}, None),
    ],
    ids=[
        "a heater's power",
        "board and fans",
        "not for long enough",
        "stale",
        "no meter",
        "a job",
        "not seen",
        "the bed is on",
        "just switched off",
        "no target known",
    ],
)
def test_power_that_is_drawn_with_every_heater_off_contradicts_the_controller(
    seen: Callable[..., Snapshot], change: dict[str, Any], answer: bool | None
) -> None:
    """An output that is stuck on heats on while the controller says off."""
    scene = {"nozzle": OFF, "bed": (24.0, 0.0), "execution": Execution.READY, "sensors": powered(60.0), **change}
    assert power_contradicts(seen(**scene)) is answer


def test_the_meter_remembers_since_when_it_shows_a_heaters_power() -> None:
    readings = heard(*(said("loft-1-meter", watts, at) for watts, at in ((12.0, 1), (55.0, 5), (48.0, 9), (90.0, 20))))
    assert readings[0].since == 5
    assert heard(said("loft-1-meter", 55.0, 5), said("loft-1-meter", 10.0, 9))[0].since == 9


@pytest.mark.parametrize(
    ("payload", "value"),
    [
        (b"21.5", 21.5),
        (b" -3\n", -3.0),
        (b"1.2e2", 120.0),
        (b'"21.5"', 21.5),
        (b"ON", 1.0),
        (b"off", 0.0),
        (b"true", 1.0),
        (b"False", 0.0),
        (b"open", 1.0),
        (b"1", 1.0),
        (b"", None),
        (b"unavailable", None),
        (b"21,5", None),
        (b"21.5 C", None),
        (b"nan", None),
        (b"inf", None),
        (b"1e99", None),
        (b"1_000", None),
        ("٣".encode(), None),
        (b"\xff\xfe", None),
        (b'{"t": 21.5}', None),
        (b"9" * 400, None),
        (b" " * LONGEST + b"21.5", None),
    ],
)
def test_a_plain_message_is_a_number_or_a_yes_or_no(payload: bytes, value: float | None) -> None:
    assert read_payload(SensorSpec("room", SensorKind.ROOM_TEMPERATURE), payload) == value


@pytest.mark.parametrize(
    ("pointer", "value"),
    [
        ("/air/t", 21.5),
        ("/air/open", 1.0),
        ("/list/1", 7.0),
        ("/a~1b", 3.0),
        ("/m~0n", 4.0),
        ("/", 5.0),
        ("/word", 1.0),
        ("/text", None),
        ("/air", None),
        ("/air/none", None),
        ("/list/2", None),
        ("/list/01", None),
        ("/list/-", None),
        ("/list/-1", None),
        ("/nothing", None),
        ("/air/t/deeper", None),
        ("/huge", None),
    ],
)
def test_a_pointer_leads_to_the_value(pointer: str, value: float | None) -> None:
    document = {
        "air": {"t": 21.5, "open": True, "none": None},
        "list": [1, 7],
        "a/b": 3,
        "m~n": 4,
        "": 5,
        "word": "on",
        "text": "warm",
        "huge": 10**300,
    }
    spec = SensorSpec("room", SensorKind.LIMIT, pointer=pointer)
    assert read_payload(spec, json.dumps(document).encode()) == value


def test_pulses_are_scaled_to_millimetres_and_yes_is_not() -> None:
    spec = SensorSpec("loft-1-motion", SensorKind.FILAMENT_MOTION, scale=2.88)
    assert read_payload(spec, b"100") == pytest.approx(288)
    assert read_payload(replace(spec, kind=SensorKind.DOOR), b"on") == 1.0


def test_a_sensor_may_mean_the_opposite_by_its_words() -> None:
    spec = SensorSpec("spool", SensorKind.FILAMENT_PRESENT, yes="0", no="RUNOUT")
    assert [read_payload(spec, said) for said in (b"0", b"runout", b"1")] == [1.0, 0.0, 1.0]
    nested = replace(spec, pointer="/p", yes="false")
    assert read_payload(nested, b'{"p": false}') == 1.0


@pytest.mark.parametrize(
    "payload",
    [
        b"[" * 100_000,
        b"[" * (DEEPEST + 1) + b"]" * (DEEPEST + 1),
        b'{"a":' * 5000,
        b'{"a": NaN}',
        b'{"a": Infinity}',
        b'{"a": ' + b"9" * 5000 + b"}",
        b'{"a": 1e999}',
        b'{"a": 1',
        b"null",
        b'"a"',
    ],
)
def test_hostile_json_is_no_value(payload: bytes) -> None:
    """Anybody on the network can write there; the watch must go on."""
    assert read_payload(SensorSpec("room", SensorKind.LIMIT, pointer="/a"), payload) is None


@given(st.binary(max_size=200), st.sampled_from(["", "/a", "/a/0", "/0"]))
def test_any_bytes_are_a_number_or_nothing(payload: bytes, pointer: str) -> None:
    value = read_payload(SensorSpec("room", SensorKind.LIMIT, pointer=pointer), payload)
    assert value is None or isfinite(value)


def test_what_is_a_pointer() -> None:
    assert all(is_pointer(written) for written in ("", "/", "/a/b", "/a~1b/~0"))
    assert not any(is_pointer(written) for written in ("a", "/a~2", "/~", "a/b"))
