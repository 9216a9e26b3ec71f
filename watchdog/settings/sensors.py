"""Sensors beside the machines: where each value comes from, and what it means."""

from collections.abc import Iterator, Mapping
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field

from watchdog.core.payload import is_pointer
from watchdog.core.sensors import SensorSpec
from watchdog.core.snapshot import SensorKind
from watchdog.settings.base import Model
from watchdog.settings.mqtt import Topic
from watchdog.settings.problems import nearest, shown
from watchdog.settings.quantities import Name, Number, Seconds

UNITS: Mapping[SensorKind, str] = {
    SensorKind.FILAMENT_MOTION: "mm",
    SensorKind.FILAMENT_PRESENT: "1",
    SensorKind.DOOR: "1",
    SensorKind.ROOM_TEMPERATURE: "°C",
    SensorKind.HUMIDITY: "%",
    SensorKind.SMOKE: "1",
    SensorKind.MAINS_POWER: "W",
    SensorKind.LIMIT: "1",
}
"""In what each kind is measured once `scale` has been applied; where it says 1, in whatever the sensor tells."""


def _kind(written: object) -> object:
    if not isinstance(written, str) or written not in {kind.value for kind in SensorKind}:
        hint = nearest(written, [kind.value for kind in SensorKind]) if isinstance(written, str) else ""
        raise ValueError(f"is no kind of sensor. {hint}".rstrip())
    return written


def _pointer(written: str) -> str:
    if not is_pointer(written):
        raise ValueError('is no JSON pointer. Write it as "/air/temperature"')
    return written


class Sensor(Model):
    """One sensor that speaks over MQTT."""

    machine: Name
    """the machine beside which it stands"""
    topic: Topic
    """where it speaks"""
    kind: Annotated[SensorKind, BeforeValidator(_kind)]
    """what it measures"""
    pointer: Annotated[str, AfterValidator(_pointer)] = ""
    """JSON pointer to its value; the message is the value itself when left out"""
    unit: str | None = Field(default=None, min_length=1, max_length=16)
    """in what it is measured, for messages; from its kind when left out"""
    scale: Number = Field(default=1.0, ge=-1e6, le=1e6)
    """its numbers times this are mm, °C, % or W: for a motion sensor the mm of filament a pulse"""
    stale_after: Seconds = Field(default=300.0, ge=2, le=86_400)
    """s that it may be quiet; beyond that nothing is known of it"""
    low: Number | None = Field(default=None, ge=-1e9, le=1e9)
    """below it somebody should look"""
    high: Number | None = Field(default=None, ge=-1e9, le=1e9)
    """above it somebody should look"""
    yes: str | None = Field(default=None, min_length=1, max_length=40)
    """its word for yes (there, open, smoke), where that is not on, true, yes, open or 1"""
    no: str | None = Field(default=None, min_length=1, max_length=40)
    """its word for no"""

    @property
    def measured_in(self) -> str:
        """The unit for messages; '1' where there is none."""
        return self.unit or UNITS[self.kind]


def spec_of(name: str, sensor: Sensor) -> SensorSpec:
    """What the core needs to know of it."""
    return SensorSpec(
        name=name,
        kind=sensor.kind,
        pointer=sensor.pointer,
        scale=sensor.scale,
        stale_after=sensor.stale_after,
        low=sensor.low,
        high=sensor.high,
        yes=sensor.yes,
        no=sensor.no,
        unit="" if sensor.measured_in == "1" else sensor.measured_in,
    )


def specs_of(machine: str, sensors: Mapping[str, Sensor]) -> tuple[SensorSpec, ...]:
    """Those that stand beside `machine`, by name."""
    return tuple(spec_of(name, one) for name, one in sorted(sensors.items()) if one.machine == machine)


def mistakes(sensors: Mapping[str, Mapping[str, Any]], machines: Mapping[str, Any]) -> Iterator[tuple[list[str], str]]:
    """(place, fault) of what does not go together, in tables as they were written."""
    moved: dict[str, str] = {}
    for name, sensor in sensors.items():
        place = ["sensors", name]
        machine, low, high = sensor.get("machine"), sensor.get("low"), sensor.get("high")
        if isinstance(machine, str) and machines and machine not in machines:
            yield [*place, "machine"], f"there is no machine {shown(machine)}. {nearest(machine, machines)}"
        if isinstance(machine, str) and not machines:
            yield [*place, "machine"], "no machine is named. Add a table [machines.NAME]."
        if isinstance(low, int | float) and isinstance(high, int | float) and low >= high:
            yield [*place, "low"], f"{low:g} is not below high, {high:g}. Swap them."
        if sensor.get("scale") == 0:
            yield (
                [*place, "scale"],
                "0 leaves nothing of what it tells. Write what one unit of it is worth, or take it out.",
            )
        yes, no = sensor.get("yes"), sensor.get("no")
        if isinstance(yes, str) and isinstance(no, str) and yes.casefold() == no.casefold():
            yield [*place, "yes"], "yes and no are the same word."
        if sensor.get("kind") == SensorKind.FILAMENT_MOTION.value and isinstance(machine, str):
            if machine in moved:
                yield (
                    place,
                    f"{moved[machine]} measures the filament of {machine} already. One machine, one motion sensor.",
                )
            moved.setdefault(machine, name)
