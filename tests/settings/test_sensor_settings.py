"""Sensors in the settings: what becomes of a table, and what is told of a mistake in one."""

from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from watchdog.core.sensors import SensorSpec
from watchdog.core.snapshot import SensorKind
from watchdog.core.timetable import Timetable, presence
from watchdog.settings import load
from watchdog.settings.fill import watch_of
from watchdog.settings.sensors import UNITS

ONE = '[machines.doorway-1]\nport = "/dev/a"\n'
TWO = ONE + '[machines.loft-1]\nport = "/dev/b"\n'
MOTION = '[sensors.motion]\nmachine = "doorway-1"\nkind = "filament-motion"\ntopic = "a/b"\n'


def test_each_machine_gets_the_sensors_beside_it(written: Callable[[str], Path]) -> None:
    text = TWO + MOTION + 'pointer = "/pulses"\nscale = 2.88\nstale_after = "1 min"\n'
    text += '[sensors.air]\nmachine = "doorway-1"\nkind = "room-temperature"\ntopic = "c"\nhigh = 30\n'
    text += '[sensors.door]\nmachine = "loft-1"\nkind = "door"\ntopic = "d"\nyes = "UP"\nno = "DOWN"\n'
    settings = load(written(text))
    doorway, loft = (watch_of(name, machine, settings) for name, machine in settings.machines.items())
    assert doorway.sensors == (
        SensorSpec("air", SensorKind.ROOM_TEMPERATURE, high=30.0, unit="°C"),
        SensorSpec("motion", SensorKind.FILAMENT_MOTION, "/pulses", 2.88, 60.0, unit="mm"),
    )
    assert loft.sensors == (SensorSpec("door", SensorKind.DOOR, yes="UP", no="DOWN"),)


def test_a_unit_for_messages_comes_from_the_kind_unless_it_is_given(written: Callable[[str], Path]) -> None:
    sensors = load(written(ONE + MOTION + MOTION.replace("motion]", "dust]").replace("filament-motion", "limit")
                           + 'unit = "µg/m³"\n')).sensors  # fmt: skip
    assert (sensors["motion"].measured_in, sensors["dust"].measured_in) == ("mm", "µg/m³")
    assert set(UNITS) == set(SensorKind)


def test_smoke_is_beyond_its_limit_when_a_sensor_says_yes(written: Callable[[str], Path]) -> None:
    text = ONE + '[sensors.smoke]\nmachine = "doorway-1"\nkind = "smoke"\ntopic = "s"\n'
    settings = load(written(text))
    (smoke,) = watch_of("doorway-1", settings.machines["doorway-1"], settings).sensors
    assert smoke.limits == (None, 0.5)


MISTAKES = {
    "a machine that is not there": (
        TWO + MOTION.replace("doorway", "dorway"),
        "sensors.motion.machine",
        ["Did you mean"],
    ),
    "no machine at all": (MOTION, "sensors.motion.machine", ["[machines.NAME]"]),
    "an unknown kind": (
        ONE + MOTION.replace("nt-mo", "nt-no"),
        "sensors.motion.kind",
        ["Did you mean filament-motion?"],
    ),
    "a kind that is no text": (
        ONE + MOTION.replace('"filament-motion"', "3"),
        "sensors.motion.kind",
        ["no kind of sensor"],
    ),
    "a pointer that is none": (ONE + MOTION + 'pointer = "a.b"\n', "sensors.motion.pointer", ["/air/temperature"]),
    "a topic for many": (ONE + MOTION.replace("a/b", "a/#"), "sensors.motion.topic", ["without + and #"]),
    "no topic": (ONE + MOTION.replace('topic = "a/b"\n', ""), "sensors.motion.topic", ["is missing"]),
    "limits the wrong way round": (
        ONE + MOTION + "low = 30\nhigh = 12\n",
        "sensors.motion.low",
        ["30 is not below high, 12"],
    ),
    "a scale of nothing": (ONE + MOTION + "scale = 0\n", "sensors.motion.scale", ["leaves nothing"]),
    "one word for both": (ONE + MOTION + 'yes = "x"\nno = "X"\n', "sensors.motion.yes", ["the same word"]),
    "two motion sensors": (
        ONE + MOTION + MOTION.replace("motion]", "other]"),
        "sensors.other",
        ["One machine, one motion"],
    ),
    "an unknown setting": (ONE + MOTION + "stale = 3\n", "sensors.motion.stale", ["Did you mean", "scale"]),
    "never stale": (ONE + MOTION + 'stale_after = "3 d"\n', "sensors.motion.stale_after", ["at most 86400 s"]),
    "a name that is none": (ONE + MOTION.replace("motion]", '"söker"]'), "sensors.söker", ["is no name here"]),
}


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_is_told_with_its_place_and_what_would_be_right(
    mistakes: Callable[[str], list[str]], mistake: str
) -> None:
    text, place, words = MISTAKES[mistake]
    (told,) = mistakes(text)
    assert told.startswith(f"{place}: ")
    for part in words:
        assert part in told


def test_the_hours_reach_the_watch_in_the_zone_that_was_set(written: Callable[[str], Path]) -> None:
    settings = load(written(ONE.replace("[", 'zone = "Europe/Lisbon"\n[hours]\nmon = ["13:00-21:00"]\n[', 1)))
    watched = watch_of("doorway-1", settings.machines["doorway-1"], settings)
    assert isinstance(watched.timetable, Timetable)
    assert watched.timetable.zone == ZoneInfo("Europe/Lisbon")
    monday = 1_773_061_200.0  # 2026-03-09 13:00 in Lisbon
    assert presence(watched.timetable, monday).supervised
    assert not presence(watched.timetable, monday - 1).supervised


def test_without_hours_nothing_is_judged_by_them(written: Callable[[str], Path]) -> None:
    settings = load(written(ONE))
    assert watch_of("doorway-1", settings.machines["doorway-1"], settings).timetable is None
