"""`check`: what a job will take and what is wrong with its file, before it is started."""

import argparse
import asyncio
import json
import sys
from dataclasses import replace
from datetime import datetime
from math import pi
from pathlib import Path

from watchdog.cli.check_words import Verdict, lines, plain
from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, Stop, complain, say, settings_of
from watchdog.clock import Clock
from watchdog.core.expectation import History, prospect
from watchdog.core.expectation.spread import MARGIN
from watchdog.core.materials import MATERIALS
from watchdog.core.observations import Setting
from watchdog.core.outlook import short_name
from watchdog.core.plan import Fault
from watchdog.core.timetable import Kind, Timetable, presence
from watchdog.jobfile.errand import PlanTrouble
from watchdog.jobfile.machine_limits import MachineLimits, from_settings_lines
from watchdog.jobfile.planning import plan_file
from watchdog.record.faults import RecordUnusable
from watchdog.record.reader import Reader
from watchdog.service.frozen import history_in, settings_in
from watchdog.settings import Settings
from watchdog.settings.calendar_sources import NoCalendar, calendars_of
from watchdog.settings.fill import motion_of, rules_of, zone_of
from watchdog.settings.model import Machine
from watchdog.settings.places import CALENDARS, of_caller
from watchdog.timetable.school import School


def run(asked: argparse.Namespace) -> int:
    """Check each file; exit status 1 when something speaks against starting one of them."""
    try:
        settings = settings_of(asked)
        name, machine = _machine(asked, settings)
        start = _start(asked.start, settings)
        timetable = _timetable(settings, start)
    except Stop as stop:
        complain(str(stop))
        return stop.status
    history, listed = _past(settings, name)
    limits = from_settings_lines(motion_of(machine), listed)
    short: dict[tuple[str, str], list[str]] = {}
    for file in asked.files:
        short.setdefault((short_name(file.name)[0][:6], short_name(file.name)[1]), []).append(file.name)
    against = False
    for file in asked.files:
        try:
            verdict = _verdict(file, limits, machine, settings, history, start, timetable, short)
        except (PlanTrouble, OSError) as wrong:
            complain(f"{file}: {wrong}")
            against = True
            continue
        against = against or bool(verdict.faults) or verdict.outlasts or verdict.hours_unknown is not None
        if asked.json:
            say(json.dumps(plain(verdict), ensure_ascii=False))
        else:
            for line in lines(verdict, settings, machine.material):
                say(line)
        if asked.plot is not None:
            _plot(
                verdict, asked.plot if len(asked.files) == 1 else asked.plot.with_stem(f"{asked.plot.stem}-{file.stem}")
            )
    return FOUND_WRONG if against else DONE


def _verdict(
    file: Path,
    limits: MachineLimits,
    machine: Machine,
    settings: Settings,
    history: History,
    start: float,
    timetable: Timetable | None,
    short: dict[tuple[str, str], list[str]],
) -> Verdict:
    progress = _progress if sys.stderr.isatty() else None
    plan = plan_file(file, limits, progress, rules=rules_of(machine))
    if progress is not None:
        print("\r" + " " * 40 + "\r", end="", file=sys.stderr, flush=True)
    known = prospect(history, plan)
    heat = sum(hold.seconds for hold in plan.holds if hold.kind == "heat")
    upper = known.ratio.late * (plan.seconds - heat) + known.heat_ratio.high * heat + MARGIN
    grams = plan.filament * pi * (machine.filament_diameter / 2) ** 2 * MATERIALS[machine.material].density / 1000
    price = None if settings.filament_price is None else grams / 1000 * settings.filament_price
    there = presence(timetable, start) if timetable is not None else None
    faults = (*plan.faults, *_collisions(file, short))
    return Verdict(
        file,
        plan,
        max(upper, plan.seconds),
        len(history.jobs),
        start,
        supervised=None if there is None or there.trouble is not None else there.supervised,
        until=None if there is None else there.until,
        hours_unknown=None if there is None else there.trouble,
        grams=grams,
        price=price,
        faults=faults,
    )


def _collisions(file: Path, short: dict[tuple[str, str], list[str]]) -> list[Fault]:
    """Other files here that the card would give the same 8.3 beginning."""
    key = (short_name(file.name)[0][:6], short_name(file.name)[1])
    others = [name for name in short.get(key, []) if name != file.name]
    if not others or (len(short_name(file.name)[0]) <= 8 and file.stem.isascii()):
        return []
    return [Fault("name", f"on the card its short name can be taken for that of {', '.join(sorted(others))}")]


def _machine(asked: argparse.Namespace, settings: Settings) -> tuple[str, Machine]:
    if asked.machine is not None and asked.machine not in settings.machines:
        raise Stop(
            USAGE, f"--machine {asked.machine}: the settings name {', '.join(settings.machines) or 'no machine'}."
        )
    if asked.machine is not None:
        return asked.machine, settings.machines[asked.machine]
    return next(iter(settings.machines.items()), ("printer", Machine()))


def _start(written: str | None, settings: Settings) -> float:
    now = Clock().now().stamp
    if written is None:
        return now
    zone = zone_of(settings)
    today = datetime.fromtimestamp(now, zone).date().isoformat()
    try:
        read = datetime.fromisoformat(f"{today}T{written}" if len(written) <= 5 else written)
    except ValueError:
        raise Stop(USAGE, f"--start {written}: write 14:05, or 2026-03-02T14:05.") from None
    return (read if read.tzinfo is not None else read.replace(tzinfo=zone)).timestamp()


def _timetable(settings: Settings, start: float) -> Timetable | None:
    """Who is there around `start`, by week and calendars; None when neither says when anybody is."""
    try:
        told = calendars_of(settings, of_caller(settings.places).state / CALENDARS, keep=False)
    except NoCalendar as none:
        raise Stop(USAGE, f"a calendar's address cannot be used: {none}.") from None
    hours = {Kind.SUPERVISED, Kind.CLOSED, Kind.HOLIDAY}  # lessons and duties say nothing of whether somebody is there
    told = replace(told, calendars=tuple(each for each in told.calendars if each.meaning.kind in hours))
    if told.week is None and not any(each.meaning.kind is Kind.SUPERVISED for each in told.calendars):
        return None
    school = School(told, Clock(), lambda timetable: None, lambda troubles: None)
    return asyncio.run(school.read_once(start))


def _past(settings: Settings, name: str) -> tuple[History, tuple[Setting, ...]]:
    """What the machine's past jobs have taught and what it has listed of itself, where the watch has a record of it."""
    try:
        with Reader.read(of_caller(settings.places).record) as record:
            stored = record.world(name)
    except RecordUnusable:
        return History(), ()
    return (history_in(stored[0]), settings_in(stored[0])) if stored is not None else (History(), ())


def _progress(done: int, whole: int) -> None:
    share = done / max(1, whole)
    print(f"\rreading [{'#' * round(24 * share):<24}] {100 * share:3.0f} %", end="", file=sys.stderr, flush=True)


def _plot(verdict: Verdict, place: Path) -> None:
    from watchdog.cli.plot import draw

    draw(verdict.file.name, verdict.plan, place)
    say(f"  drawn      {place}")
