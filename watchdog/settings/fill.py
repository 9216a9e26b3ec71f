"""The rooms' own limits and options, filled from the settings."""

from dataclasses import replace
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from watchdog.alerts.backoff import BackOff
from watchdog.alerts.delivery import Options as DeliveryOptions
from watchdog.alerts.routes import Person, Route
from watchdog.core import detectors, machine, materials
from watchdog.core.alarms.alarm import Alarm
from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Priority
from watchdog.core.hours import DAYS, Week
from watchdog.core.snapshot import Source
from watchdog.core.step import Armed, Watch
from watchdog.core.timetable import Timetable
from watchdog.dialect.pace import Pace
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.rules import Rules
from watchdog.settings.addresses import address
from watchdog.settings.limits import overridden
from watchdog.settings.model import LogLayout, Machine, Settings
from watchdog.settings.network import network_of
from watchdog.settings.sensors import specs_of
from watchdog.sources.log_layout import Layout
from watchdog.sources.recorder import RecorderOptions
from watchdog.sources.serial_names import BY_ID, PortNotChosen, find_port
from watchdog.sources.serial_port import SerialOptions
from watchdog.sources.traffic_log import LogOptions

WINDOW_SLACK = 15.0
"""°C beyond a material's usual window that a file may ask for: data sheets differ by so much; common practice, no source"""
ITSELF = "watch"
"""the name under which the watch's own alarm stands"""


class NoPrinter(Exception):
    """No machine is named in the settings and none is found. The message is for the operator."""


def with_found_printer(settings: Settings, names: Path = BY_ID) -> Settings:
    """`settings`, with the only serial device as the machine 'printer' where none is named. Raises NoPrinter."""
    if settings.machines:
        return settings
    try:
        port = find_port(names)
    except PortNotChosen as none:
        raise NoPrinter(str(none)) from None
    return settings.model_copy(update={"machines": {"printer": Machine(port=str(port))}})


def watch_of(name: str, settings_of_machine: Machine, settings: Settings) -> Watch:
    """With what the machine `name` is watched."""
    material = materials.MATERIALS[settings_of_machine.material]
    melts_at = settings_of_machine.melts_at or material.melts_at
    layers = (settings.limits, settings_of_machine.limits)
    armed = []
    for detector in detectors.MACHINE:
        start: Any = detector.Limits()
        if detector.NAME == "hot-idle":
            diameter = settings_of_machine.filament_diameter
            start = materials.hot_idle_limits(material, replace(start, filament=diameter))
        armed.append(Armed(detector, overridden(start, detector.NAME, *layers)))
    return Watch(
        name=name,
        source=Source.SERIAL if settings_of_machine.source == "serial" else Source.LISTENING,
        machine=machine.Limits(melts_at=melts_at),
        armed=tuple(armed),
        table=_table(settings, {detector.NAME for detector in detectors.MACHINE}),
        learns=settings_of_machine.learn,
        expected={file.lower(): seconds for file, seconds in settings_of_machine.expected.items()},
        sensors=specs_of(name, settings.sensors),
        timetable=timetable_of(settings),
    )


def watch_of_itself(settings: Settings) -> Watch:
    """With what the watch itself is watched."""
    armed = tuple(
        Armed(detector, overridden(detector.Limits(), detector.NAME, settings.limits)) for detector in detectors.WATCH
    )
    table = _table(settings, {detector.NAME for detector in detectors.WATCH})
    return Watch(ITSELF, Source.LISTENING, machine.Limits(), armed, table)


def _table(settings: Settings, names: set[str]) -> dict[str, Alarm]:
    """The alarm table as this house wants it."""
    return {name: changed(row, settings) for name, row in TABLE.items() if name in names}


def changed(row: Alarm, settings: Settings) -> Alarm:
    """`row` of the alarm table with what the settings change in it."""
    change = settings.alarms.get(row.name)
    if change is None:
        return row
    told = change.model_dump(exclude_none=True, exclude={"spoken"})
    if change.priority is Priority.URGENT:  # by the rule of the table: urgent alarms latch
        told["latched"] = True
    return replace(row, **told)


def unspoken(settings: Settings) -> frozenset[str]:
    """Alarms that are recorded and told to nobody."""
    wanted = {name: change.spoken for name, change in settings.alarms.items() if change.spoken is not None}
    return frozenset(name for name, row in TABLE.items() if not wanted.get(name, row.spoken))


def zone_of(settings: Settings) -> ZoneInfo:
    """The time zone that people read."""
    return settings.zone or local_zone()


def local_zone(link: Path = Path("/etc/localtime")) -> ZoneInfo:
    """This computer's zone, by the link that names it; UTC where that cannot be told."""
    try:
        _, _, name = str(link.resolve()).partition("zoneinfo/")
        return ZoneInfo(name) if name else ZoneInfo("UTC")
    except (OSError, ValueError):
        return ZoneInfo("UTC")


def people_of(settings: Settings) -> tuple[Person, ...]:
    """Everybody who is told, with their addresses. Raises NoAddress when one can no longer be read."""
    routes = {
        name: Route(name, address(route), route.brief, route.two_parts) for name, route in settings.routes.items()
    }
    return tuple(
        Person(name, tuple(routes[route] for route in person.routes), person.told, person.show_files, person.language)
        for name, person in settings.people.items()
    )


def delivery_of(settings: Settings) -> DeliveryOptions:
    """How messages are sent."""
    told = settings.delivery
    back_off = BackOff(told.first_pause, told.longest_pause)
    return DeliveryOptions(
        zone=zone_of(settings),
        limit=told.time_limit,
        back_off=back_off,
        impaired_after=told.give_up_after,
        network=network_of(settings.network),
    )


def pace_of(settings_of_machine: Machine) -> Pace | None:
    """How the machine is asked; None for one that is only listened to."""
    if settings_of_machine.source != "serial":
        return None
    poll = settings_of_machine.poll
    return Pace(temperature=poll, progress=poll, report=max(1, round(poll)))


def serial_of(settings_of_machine: Machine) -> SerialOptions:
    """Where the machine's port is."""
    told = settings_of_machine
    return SerialOptions(port=told.port, baud=told.baud, resets_on_open=told.resets_on_open)


def recorder_of(settings_of_machine: Machine) -> RecorderOptions:
    """How much of the traffic is kept."""
    told = settings_of_machine
    return RecorderOptions(file_bytes=told.record_bytes, files_kept=told.record_files)


def layout_of(told: LogLayout | None) -> Layout | None:
    """How a followed log is laid out; None for our own recording format."""
    if told is None:
        return None
    words = {name: value for name, value in (("sent", told.sent), ("received", told.received)) if value is not None}
    zone = told.zone.key if told.zone is not None else None
    return Layout(told.pattern, told.time_format, zone, told.fold, **words)


def motion_of(settings_of_machine: Machine) -> MachineLimits:
    """How the machine moves."""
    told = settings_of_machine.motion.model_dump(exclude_none=True, exclude={"corners", "room"})
    limits = replace(MachineLimits(), filament_diameter=settings_of_machine.filament_diameter, **told)
    return replace(limits, deviation=None) if settings_of_machine.motion.corners == "jerk" else limits


def rules_of(settings_of_machine: Machine) -> Rules:
    """What a job file for this machine is held to."""
    material = materials.MATERIALS[settings_of_machine.material]
    low, high = material.window
    window = (low - WINDOW_SLACK, high + WINDOW_SLACK)
    return Rules(
        nozzle=window,
        bounds=settings_of_machine.motion.room,
        melts_at=settings_of_machine.melts_at or material.melts_at,
    )


def week_of(settings: Settings) -> Week | None:
    """The supervised hours; None when none are set, and nothing is to be judged by them."""
    days = tuple(getattr(settings.hours, day) for day in DAYS)
    return Week(days) if any(days) else None


def timetable_of(settings: Settings) -> Timetable | None:
    """Who is there by the week alone; None when no hours are set. Calendars are read by whoever follows them."""
    week = week_of(settings)
    return None if week is None else Timetable(zone_of(settings), week)


def log_of(settings_of_machine: Machine) -> LogOptions:
    """Which log is followed."""
    if settings_of_machine.log is None:
        raise ValueError("no log is named")
    return LogOptions(path=settings_of_machine.log, layout=layout_of(settings_of_machine.layout))
