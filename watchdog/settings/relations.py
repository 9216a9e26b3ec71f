"""What must hold between settings: names that lead somewhere, one machine a port, limits in their order.

The first half looks at what is written, judged or not, so that a mistake elsewhere in a table hides none of these.
"""

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from watchdog.core.alarms.alarm import problems as unfit
from watchdog.core.alarms.table import TABLE
from watchdog.settings.fill import ITSELF, changed, layout_of, watch_of, watch_of_itself
from watchdog.settings.limits import out_of_order
from watchdog.settings.model import LogLayout, Machine, Settings
from watchdog.settings.origin import Written
from watchdog.settings.problems import Problem, nearest, shown
from watchdog.settings.review import mistakes as upkeep_mistakes
from watchdog.settings.routing import mistakes as routing_mistakes
from watchdog.settings.sensors import mistakes as sensor_mistakes
from watchdog.sources.log_layout import BadLayout, line_reader


def of_written(written: Written) -> Iterator[Problem]:
    """Judges what does not depend on any value being right."""
    machines = _tables(written.merged, "machines")
    yield from _machines(written, machines)
    routes = _tables(written.merged, "routes")
    for name, route in routes.items():
        given = [kind for kind in ("url", "url_file", "credential") if kind in route]
        if len(given) != 1:
            found = f"there are {' and '.join(given)}" if given else "there is no address"
            fault = f"{found}. Give exactly one of url, url_file and credential."
            yield Problem(written.place(["routes", name]), fault)
    for place, fault in sensor_mistakes(_tables(written.merged, "sensors"), machines):
        yield Problem(written.place(place), fault)
    yield from of_upkeep(written)
    for name, person in _tables(written.merged, "people").items():
        for route in person.get("routes", ()) if isinstance(person.get("routes"), list) else ():
            if isinstance(route, str) and route not in written.merged.get("routes", {}):
                hint = nearest(route, routes) if routes else "Add a table [routes.NAME] with its address."
                fault = f"there is no route {shown(route)}. {hint}"
                yield Problem(written.place(["people", name, "routes"]), fault)


def of_upkeep(written: Written) -> Iterator[Problem]:
    """Judges the tables of [upkeep] alone."""
    for place, fault in upkeep_mistakes(_tables(written.merged, "upkeep"), _tables(written.merged, "machines")):
        yield Problem(written.place(place), fault)


def _machines(written: Written, machines: Mapping[str, Mapping[str, Any]]) -> Iterator[Problem]:
    taken: dict[str, str] = {}
    serial = sum(not _only_listens(machine) for machine in machines.values())
    for name, machine in machines.items():
        place = ["machines", name]
        if name == ITSELF:
            fault = f"the watch itself goes by the name {ITSELF}. Choose another."
            yield Problem(written.place(place), fault)
        follows = _follows_a_log(machine)
        used = machine.get("log" if follows else "port")
        if machine.get("source") == "log" and "log" not in machine:
            fault = 'source = "log" needs the log that is to be followed: log = "/path/of/the/traffic.log".'
            yield Problem(written.place([*place, "log"]), fault)
        elif machine.get("source", "serial") == "serial" and "log" in machine:
            yield Problem(written.place([*place, "source"]), 'log is set. Write source = "log", or take log out.')
        elif not _only_listens(machine) and used is None and serial > 1:
            fault = "is missing. With several serial machines each names its port, or two would take the same."
            yield Problem(written.place([*place, "port"]), fault)
        elif isinstance(used, str):
            device = os.path.realpath(used) if used.startswith("/") else used
            if device in taken:
                fault = f"machine {taken[device]} has it already. One machine, one {'log' if follows else 'port'}."
                yield Problem(written.place([*place, "log" if follows else "port"]), fault)
            taken.setdefault(device, name)
        yield from _layout(written, [*place, "layout"], machine.get("layout"))


def _follows_a_log(machine: Mapping[str, Any]) -> bool:
    return machine.get("source") == "log" or ("log" in machine and "source" not in machine)


def _only_listens(machine: Mapping[str, Any]) -> bool:
    return machine.get("source") == "mqtt" or _follows_a_log(machine)


def _layout(written: Written, path: Sequence[str], layout: object) -> Iterator[Problem]:
    if layout is None:
        return
    try:
        line_reader(layout_of(LogLayout.model_validate(layout)))
    except ValidationError:
        return  # told already, value by value
    except BadLayout as bad:
        yield Problem(written.place(path), f"{bad}.")


def of_values(written: Written, settings: Settings) -> Iterator[Problem]:
    """Judges values against each other. `settings` holds those that are right by themselves."""
    delivery = settings.delivery
    if delivery.first_pause > delivery.longest_pause:
        fault = f"{delivery.first_pause:g} s is longer than longest_pause, {delivery.longest_pause:g} s."
        yield Problem(written.place(["delivery", "first_pause"]), f"{fault} Swap them.")
    told = set()
    machines = settings.machines or {"printer": Machine()}
    watches = [watch_of(name, machine, settings) for name, machine in machines.items()]
    for watch in [*watches, watch_of_itself(settings)]:
        own = settings.machines[watch.name].limits if watch.name in settings.machines else None
        for armed in watch.armed:
            alarm = armed.detector.NAME
            for lesser, greater in out_of_order(alarm, armed.limits):
                table = getattr(own, alarm.replace("-", "_"), None)
                here = table is not None and {lesser, greater} & table.model_fields_set
                path = ["machines", watch.name, "limits", alarm] if here else ["limits", alarm]
                values = f"{getattr(armed.limits, lesser):g} is more than {greater}, {getattr(armed.limits, greater):g}"
                told.add(Problem(written.place([*path, lesser]), f"{values}. It must be at most that."))
    yield from sorted(told)
    for name in settings.alarms:
        row = replace(changed(TABLE[name], settings), suppresses=(), covers=(), grows_from=())  # none can be set
        for sentence in unfit({name: row}):
            yield Problem(written.place(["alarms", name]), sentence.removeprefix(f"{name}: ") + ".")
    yield from routing_mistakes(written, settings)


def _tables(merged: Mapping[str, Any], name: str) -> dict[str, Mapping[str, Any]]:
    """The tables below `name`; what is none is told elsewhere."""
    here = merged.get(name)
    return (
        {key: table for key, table in here.items() if isinstance(table, Mapping)} if isinstance(here, Mapping) else {}
    )
