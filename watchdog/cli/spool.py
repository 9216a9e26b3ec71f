"""`spool`: what is loaded, what is left of it, and what the running job still needs."""

import argparse
import json
from typing import Any

from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, Stop, ask_if_running, complain, say
from watchdog.cli.entering import enter, log_settings
from watchdog.cli.plain import plain
from watchdog.record.faults import RecordUnusable
from watchdog.record.reader import Reader
from watchdog.service.control import NotRunning
from watchdog.service.entries import THICK, nominal, spool_facts
from watchdog.service.summing import Stock, grams
from watchdog.settings import Settings
from watchdog.settings.fill import zone_of
from watchdog.settings.places import of_caller


def run(asked: argparse.Namespace) -> int:
    """Enter it, or show the account."""
    try:
        return _COMMANDS[asked.what](asked)
    except Stop as stop:
        complain(str(stop))
        return stop.status
    except RecordUnusable as unusable:
        complain(str(unusable))
        return FOUND_WRONG


def _load(asked: argparse.Namespace) -> int:
    if asked.amount is not None:
        raise Stop(USAGE, "spool load takes no number of its own: write --grams 1000 for what is on it.")
    return _entered(
        asked,
        do="spool",
        what="load",
        material=asked.material,
        grams=asked.grams,
        empty=asked.empty,
        diameter=asked.diameter,
    )


def _weigh(asked: argparse.Namespace) -> int:
    if asked.amount is None:
        raise Stop(USAGE, "say what it weighs with the spool, in g: emberward spool weigh 640")
    return _entered(asked, do="weigh", grams=asked.amount)


def _measure(asked: argparse.Namespace) -> int:
    if asked.amount is None:
        raise Stop(USAGE, "say what was measured, in mm: emberward spool measure 1.74")
    return _entered(asked, do="measure", mm=asked.amount)


def _off(asked: argparse.Namespace) -> int:
    answer = enter(asked, do="spool", what="off", machine=asked.machine)
    if not answer["off"]:
        raise Stop(FOUND_WRONG, f"{answer['machine']}: no spool was loaded, by what was entered.")
    say(f"{answer['machine']}: the spool is off; no account is kept until another one is entered")
    return DONE


def _entered(asked: argparse.Namespace, **request: Any) -> int:
    answer = enter(asked, machine=asked.machine, note=asked.note, **request)
    for line in lines(answer):
        say(line)
    return DONE


def _show(asked: argparse.Namespace) -> int:
    settings = log_settings(asked)
    running = _running(settings)
    with Reader.read(of_caller(settings.places).record) as record, record.one_moment():
        spools = record.spools(asked.machine, loaded_only=True)
        measured = {row.spool for row in record.diameters(asked.machine)}
    found = []
    for spool in spools:
        facts = spool_facts(spool, nominal(settings, spool.machine), spool.id in measured)
        live = None if running is None else running.get(spool.machine)
        found.append(with_running(facts, live))
    if asked.json:
        for facts in found:
            say(json.dumps(plain(facts), ensure_ascii=False))
        return DONE
    zone = zone_of(settings)
    for facts in found:
        for line in [*lines(facts), *_needs(facts, running is not None)]:
            say(line)
    if not found:
        say(f"no spool is entered ({zone.key}). Enter it: emberward spool load --material PLA --grams 1000 --empty 210")
    return DONE


def _running(settings: Settings) -> dict[str, dict[str, Any]] | None:
    """What the service follows, by machine; None when none runs."""
    try:
        answer = ask_if_running(of_caller(settings.places), {"do": "spools"})
    except NotRunning:
        return None
    return {row["machine"]: row for row in answer["machines"]}


def with_running(facts: dict[str, Any], live: dict[str, Any] | None) -> dict[str, Any]:
    """The record's account, or the one that the running service follows into the present job."""
    needed = None if live is None else live["needed_mm"]
    if live is None or live["left_mm"] is None:
        return {**facts, "needed_mm": needed}
    weight = grams(live["left_mm"], Stock(facts["material"], facts["density"], facts["diameter"]))
    return {**facts, "left_mm": live["left_mm"], "left_g": weight, "needed_mm": needed}


def lines(facts: dict[str, Any]) -> list[str]:
    """The account in words."""
    head = f"{facts['machine']}  {facts['material']}, {facts['diameter']:g} mm"
    left = facts["left_mm"]
    if left is None:
        hint = "" if facts["empty"] is None else ", or weigh it: emberward spool weigh GRAMS"
        shown = [f"{head}: what is on it is not known. Say so at loading (--grams){hint}"]
    else:
        shown = [f"{head}: {left / 1000:.1f} m, {facts['left_g']:.0f} g left"]
    if left is not None and left < 0:
        shown.append("  that is below nothing, so the account is wrong: weigh it (emberward spool weigh GRAMS)")
    if facts["jobs_without_length"]:
        shown.append(
            f"  {facts['jobs_without_length']} jobs since then took an unknown length: there is less than that"
        )
    if facts["flow_error"] is not None:
        error = 100 * facts["flow_error"]
        shown.append(
            f"  measured {facts['diameter']:g} mm: {error:+.1f} % of flow, against a file that reckons with the usual"
        )
    if facts["too_thick"]:
        shown.append(
            f"  WARNING: above {THICK:.2f} mm 1.75 mm filament may stick in the feed. Do not start a job with it."
        )
    return shown


def _needs(facts: dict[str, Any], runs: bool) -> list[str]:
    needed, left = facts["needed_mm"], facts["left_mm"]
    if not runs:
        return ["  no service runs: a running job is not in this account"]
    if needed is None:
        return ["  no job with a plan runs"]
    short = "" if left is None or needed <= left else f": {(needed - left) / 1000:.1f} m SHORT"
    return [f"  the running job still needs {needed / 1000:.1f} m{short}"]


_COMMANDS = {None: _show, "load": _load, "weigh": _weigh, "measure": _measure, "off": _off}
