"""The condition of what a sensor tells of: unknown while the sensor is quiet, never normal."""

from watchdog.core import machine
from watchdog.core.alarms.table import TABLE
from watchdog.core.detectors import MACHINE
from watchdog.core.effects import StateChanged
from watchdog.core.events import Line, Measured, Tick
from watchdog.core.moment import Moment
from watchdog.core.observations import LinkUp, Reading, Temperatures
from watchdog.core.sensors import SensorSpec
from watchdog.core.snapshot import SensorKind, Source
from watchdog.core.step import Armed, Watch, begin, stale_sensors, step
from watchdog.core.traffic import Direction

COLD = (Temperatures(Reading(24.0, 0.0), Reading(23.0, 0.0)),)


def at(second: float) -> Moment:
    return Moment(second, 1_772_539_200.0 + second)


def levels(sensor: SensorSpec, value: float, subject: str) -> dict[int, str]:
    """The subject's level at the seconds at which it changes, of an idle machine; the sensor speaks at 5 s and at 90 s."""
    armed = tuple(Armed(one, one.Limits()) for one in MACHINE)
    watch = Watch("doorway-1", Source.SERIAL, machine.Limits(), armed, TABLE, sensors=(sensor,))
    world = begin(watch, at(0))
    changes = {}
    for second in range(120):
        line = Line(at(second), Direction.RECEIVED, "", COLD if second else (LinkUp(),))
        heard = Measured(at(second), sensor.name, value) if second in {5, 90} else None
        for event in (line, heard, Tick(at(second))):
            if event is None:
                continue
            world, effects = step(watch, world, event)
            for effect in effects:
                if isinstance(effect, StateChanged) and effect.axis == f"condition.{subject}":
                    changes[second] = effect.after
        told = dict(world.conditions)[subject]
        assert not (stale_sensors(world, watch, at(second)) and told == "normal")
    return changes


def test_feeding_is_unknown_while_its_sensor_is_quiet_though_the_wire_says_nothing_bad() -> None:
    """A display that shows it green would say that somebody is looking."""
    sensor = SensorSpec("doorway-1-motion", SensorKind.FILAMENT_MOTION, stale_after=30.0)
    assert levels(sensor, 12.0, "feed") == {0: "normal", 36: "unavailable", 90: "normal"}


def test_the_surroundings_are_unknown_while_a_sensor_with_a_limit_is_quiet() -> None:
    sensor = SensorSpec("room-air", SensorKind.ROOM_TEMPERATURE, stale_after=30.0, high=32.0)
    changes = levels(sensor, 21.5, "surroundings")
    assert changes == {5: "normal", 36: "unavailable", 90: "normal"}


def test_a_sensor_that_nobody_set_a_limit_for_makes_nothing_normal() -> None:
    assert levels(SensorSpec("door", SensorKind.DOOR, stale_after=30.0), 0.0, "surroundings") == {}
