"""What the rooms get from the settings."""

from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from watchdog.alerts.backoff import BackOff
from watchdog.alerts.delivery import Options as DeliveryOptions
from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Priority
from watchdog.settings import Settings, fill, load
from watchdog.settings.model import Delivery, Machine
from watchdog.sources.log_layout import Layout, line_reader
from watchdog.sources.recorder import RecorderOptions
from watchdog.sources.serial_port import SerialOptions

Written = Callable[[str], Path]


def test_the_defaults_are_those_of_the_rooms() -> None:
    """Two different defaults for one thing would make the example file lie."""
    machine, settings = Machine(port="/dev/a"), Settings(zone=ZoneInfo("Europe/Lisbon"))
    assert fill.serial_of(machine) == SerialOptions(port="/dev/a")
    assert fill.recorder_of(machine) == RecorderOptions()
    told = fill.delivery_of(settings)
    assert (told.limit, told.back_off, told.impaired_after) == (
        Delivery().time_limit,
        BackOff(),
        DeliveryOptions(zone=told.zone).impaired_after,
    )
    pace = fill.pace_of(machine)
    assert pace is not None
    assert (pace.temperature, pace.progress, pace.report) == (2.0, 2.0, 2)


def test_a_machine_is_opened_asked_and_recorded_as_set(written: Written) -> None:
    settings = load(
        written("""
[machines.a]
port = "socket://127.0.0.1:7000"
baud = 250000
resets_on_open = false
poll = "4.6 s"
record = true
record_bytes = 200000
record_files = 3
expected = {"CLEAT~1.GCO" = "38 min", "oar.gco" = 1320}
""")
    )
    (machine,) = settings.machines.values()
    assert fill.serial_of(machine) == SerialOptions("socket://127.0.0.1:7000", 250000, resets_on_open=False)
    assert fill.recorder_of(machine) == RecorderOptions(file_bytes=200000, files_kept=3)
    pace = fill.pace_of(machine)
    assert pace is not None
    assert (pace.temperature, pace.progress, pace.report) == (4.6, 4.6, 5)
    assert fill.watch_of("a", machine, settings).expected == {"cleat~1.gco": 2280.0, "oar.gco": 1320.0}


def test_a_log_is_followed_in_its_layout_and_never_asked(written: Written) -> None:
    settings = load(
        written("""
[machines.loft-1]
source = "log"
log = "/srv/loft/serial.log"
[machines.loft-1.layout]
pattern = '^(?P<time>\\S+ \\S+) (?P<direction>\\S+): (?P<text>.*)$'
time_format = "%d.%m.%Y %H:%M:%S"
zone = "Europe/Lisbon"
fold = 1
sent = ["to"]
""")
    )
    (machine,) = settings.machines.values()
    options = fill.log_of(machine)
    assert options.path == Path("/srv/loft/serial.log")
    assert options.layout == Layout(
        r"^(?P<time>\S+ \S+) (?P<direction>\S+): (?P<text>.*)$", "%d.%m.%Y %H:%M:%S", "Europe/Lisbon", 1, sent=("to",)
    )
    line = line_reader(options.layout)("02.07.2026 10:14:07 to: M105", 0.0)
    assert line is not None
    assert (line.stamp, line.direction.value, line.text) == (1_782_983_647.0, ">", "M105")
    assert fill.pace_of(machine) is None
    with pytest.raises(ValueError, match="no log"):
        fill.log_of(Machine())


def test_a_house_changes_its_alarm_table(written: Written) -> None:
    settings = load(
        written("""
[machines.a]
port = "/dev/a"
[alarms.hot-idle]
priority = "urgent"
on_delay = "1 min"
off_delay = 5
remind_after = "10 min"
re_alarm_after = "1 h"
[alarms.watch-impaired]
priority = "low"
[alarms.job-late]
spoken = false
[alarms.silent]
spoken = true
""")
    )
    table = fill.watch_of("a", settings.machines["a"], settings).table
    row = table["hot-idle"]
    assert (row.priority, row.on_delay, row.off_delay, row.remind_after) == (Priority.URGENT, 60, 5, 600)
    assert row.re_alarm_after == 3600
    assert row.latched, "an urgent alarm stays until a person has seen it"
    assert (row.action, row.respond_within) == (TABLE["hot-idle"].action, TABLE["hot-idle"].respond_within)
    unchanged = set(TABLE) - {"hot-idle", "watch-impaired"}
    assert {name: table[name] for name in unchanged} == {name: TABLE[name] for name in unchanged}
    assert fill.watch_of_itself(settings).table["watch-impaired"].priority is Priority.LOW
    assert fill.unspoken(settings) == {"job-late", "flow-lost"}


def test_an_alarm_that_is_recorded_only_speaks_when_the_settings_say_so(written: Written) -> None:
    """Whoever has seen an inference come true on their own machine may want to hear it."""
    assert fill.unspoken(Settings()) == {"flow-lost"}
    assert fill.unspoken(load(written("[alarms.flow-lost]\nspoken = true\n"))) == frozenset()


def test_people_get_their_routes_in_their_order(written: Written) -> None:
    settings = load(
        written("""
[routes.push]
url = "json://h/1"
[routes.sms]
url = "json://h/2"
brief = true
two_parts = true
[people.lead]
routes = ["sms", "push"]
show_files = true
[people.warden]
routes = ["push"]
told = ["urgent", "low"]
""")
    )
    lead, warden = fill.people_of(settings)
    assert [(route.name, route.url, route.brief, route.two_parts) for route in lead.routes] == [
        ("sms", "json://h/2", True, True),
        ("push", "json://h/1", False, False),
    ]
    assert (lead.name, lead.show_files, lead.priorities) == ("lead", True, frozenset(Priority))
    assert (warden.show_files, warden.priorities) == (False, frozenset({Priority.URGENT, Priority.LOW}))


def test_the_zone_is_the_computers_own_when_none_is_set(tmp_path: Path) -> None:
    zones = tmp_path / "zoneinfo" / "America"
    zones.mkdir(parents=True)
    (zones / "Halifax").touch()
    link = tmp_path / "localtime"
    link.symlink_to(zones / "Halifax")
    assert fill.local_zone(link).key == "America/Halifax"
    assert fill.local_zone(tmp_path / "none").key == "UTC"
    assert fill.zone_of(Settings(zone=ZoneInfo("Europe/Lisbon"))).key == "Europe/Lisbon"
    assert fill.zone_of(Settings()).key == fill.local_zone().key


def test_the_only_serial_device_is_the_machine_when_none_is_named(tmp_path: Path) -> None:
    names, device = tmp_path / "by-id", tmp_path / "ttyUSB0"
    names.mkdir()
    device.touch()
    with pytest.raises(fill.NoPrinter, match="switched on"):
        fill.with_found_printer(Settings(), names)
    (names / "usb-EXAMPLE-if00-port0").symlink_to(device)
    found = fill.with_found_printer(Settings(), names).machines
    assert {name: machine.port for name, machine in found.items()} == {"printer": str(names / "usb-EXAMPLE-if00-port0")}
    other = tmp_path / "ttyUSB1"
    other.touch()
    (names / "usb-OTHER-if00-port0").symlink_to(other)
    with pytest.raises(fill.NoPrinter, match="2 serial devices"):
        fill.with_found_printer(Settings(), names)
    named = Settings(machines={"doorway-1": Machine(port="/dev/a")})
    assert fill.with_found_printer(named, names) is named
