"""`due`: what the machines want seen to, furthest first."""

import argparse
import json
from zoneinfo import ZoneInfo

from watchdog.cli.common import DONE, FOUND_WRONG, Stop, complain, paint, say
from watchdog.cli.entering import log_settings
from watchdog.cli.plain import plain, when
from watchdog.record.faults import RecordUnusable
from watchdog.record.reader import Reader
from watchdog.review.due import Due, in_order
from watchdog.service.digest import look
from watchdog.service.entries import machine_of
from watchdog.settings.fill import zone_of
from watchdog.settings.places import of_caller

WIDTH = 20  # characters of a bar


def run(asked: argparse.Namespace) -> int:
    """Print it. Exit status 0 also when something is due: that is no fault."""
    try:
        settings = log_settings(asked)
        machine = None if asked.machine is None else machine_of(settings, {"machine": asked.machine})
        with Reader.read(of_caller(settings.places).record) as record, record.one_moment():
            rows = in_order(look(record, settings, machine))
    except Stop as stop:
        complain(str(stop))
        return stop.status
    except (ValueError, RecordUnusable) as refused:
        complain(str(refused))
        return FOUND_WRONG
    zone = zone_of(settings)
    if asked.json:
        for one in rows:
            say(json.dumps(_facts(one), ensure_ascii=False))
        return DONE
    for one in rows:
        say(_line(one, zone))
    if not rows:
        say("nothing is kept for these machines: [upkeep] in the settings")
    elif not any(one.due for one in rows):
        say("nothing is due")
    else:
        say("when it was seen to: emberward done ITEM --machine NAME")
    return DONE


def _line(one: Due, zone: ZoneInfo) -> str:
    state, colour = ("DUE ", "yellow") if one.due else ("soon", "blue") if one.soon else ("    ", "dim")
    full = min(WIDTH, int(one.share * WIDTH))
    bar = "#" * full + "." * (WIDTH - full)
    row = one.row
    last = f"last {when(row.done, zone)} by {row.by}" if row.done is not None else "never entered: since the first job"
    return f"{paint(state, colour)}  [{bar}]  {row.machine}  {one.item.name}  {one.told}  ({last})"


def _facts(one: Due) -> dict[str, object]:
    every = {f"every_{name}": value for name, value in one.item._asdict().items() if name != "name"}
    row = plain(one.row)
    return {**row, **every, "share": round(one.share, 4), "due": one.due, "soon": one.soon}
