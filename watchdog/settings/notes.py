"""What is allowed but worth a second look, for `watch --check` and the start of the service."""

import os
import re
from collections.abc import Iterator
from pathlib import Path

from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Priority
from watchdog.settings.addresses import NoAddress, address, open_to_others
from watchdog.settings.model import Route, Settings

COMMON_BAUDS = (9600, 19200, 38400, 57600, 115200, 230400, 250000, 256000, 460800, 500000, 921600, 1000000, 2000000)
# domains that RFC 2606 and RFC 6761 keep for examples: nothing that is sent there arrives
_EXAMPLE = re.compile(r"[@/.=]example(\.(org|com|net))?(?![\w.-])|\.(invalid|test)(?![\w.-])", re.IGNORECASE)


def notes(settings: Settings, file: Path | None) -> Iterator[str]:
    """One sentence each; none repeats an address."""
    if not settings.machines:
        yield "no machine is named; a single serial printer is found by its stable name"
    for name, machine in settings.machines.items():
        if machine.source == "serial" and machine.baud not in COMMON_BAUDS:
            yield f"machines.{name}.baud: {machine.baud} is an unusual speed; look again whether it is meant"
    if settings.sensors and settings.mqtt is None:
        yield "sensors are set up, and no broker: nothing will be heard of them. Add a table [mqtt] with its host"
    yield from _people(settings)
    for name, route in settings.routes.items():
        yield from _route(name, route)
    if file is not None and any(route.url is not None for route in settings.routes.values()) and open_to_others(file):
        yield (
            f"others on this computer can read {file}, and it holds addresses. Do: chmod 600 {file}, "
            "or keep the addresses in files of their own (url_file) or in credentials of the service"
        )
    for name, change in settings.alarms.items():
        if TABLE[name].priority is Priority.URGENT:
            if change.spoken is False:
                yield f"alarms.{name}: nobody will be told of this urgent alarm"
            elif change.priority not in (None, Priority.URGENT):
                yield f"alarms.{name}: lowered from urgent to {change.priority}; only those who are told that will know"


def _people(settings: Settings) -> Iterator[str]:
    if not settings.people:
        yield "nobody is named, so nobody will be told"
        return
    for priority in Priority:
        if not any(priority in person.told for person in settings.people.values()):
            yield f"nobody is told {priority} alarms"
    used = {route for person in settings.people.values() for route in person.routes}
    for name in settings.routes:
        if name not in used:
            yield f"routes.{name}: nobody uses this route"


def _route(name: str, route: Route) -> Iterator[str]:
    if route.credential is not None and "CREDENTIALS_DIRECTORY" not in os.environ:
        yield f"routes.{name}: not looked at, because systemd hands its credential to the service alone"
        return
    try:
        if _EXAMPLE.search(address(route)):
            yield f"routes.{name}: still an example's address; no message will arrive there"
    except NoAddress:
        return  # a mistake, told as one
