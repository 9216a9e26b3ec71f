"""`replay`: recordings through the same core at full speed, under their own clock. Sends nothing to anyone."""

import argparse
import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, Stop, complain, say, settings_of, span
from watchdog.core.outlook import JobFile
from watchdog.core.step import Watch
from watchdog.core.traffic import read_stamp
from watchdog.jobfile.commands import commands_of
from watchdog.jobfile.errand import PlanTrouble
from watchdog.jobfile.planning import plan_file
from watchdog.service.folder import ENDINGS
from watchdog.service.replay import run as run_through
from watchdog.service.replay import told
from watchdog.settings import BadSettings, Settings
from watchdog.settings.fill import layout_of, motion_of, watch_of, zone_of
from watchdog.settings.model import Machine
from watchdog.settings.overlay import laid_over
from watchdog.sources.log_layout import Layout
from watchdog.sources.recording import Recording, read_recording
from watchdog.sources.sidecar import BadSidecar, read_sidecar, sidecar_path

OURS = (".traffic", ".traffic.gz")


def run(asked: argparse.Namespace) -> int:
    """Replay each file; exit status 1 when one could not be read to its end."""
    try:
        settings = settings_of(asked, "not needed")
        name, machine = _machine(asked, settings)
        files = _planned(asked.jobs, machine)
    except Stop as stop:
        complain(str(stop))
        return stop.status
    well = True
    for file in asked.files:
        try:
            well &= _replay(file, name, machine, settings, files, as_json=asked.json)
        except BrokenPipeError:  # our reader has gone; that is no fault of the recording
            raise
        except FileNotFoundError:
            complain(f"{file}: there is no such recording.")
            well = False
        except OSError as error:
            complain(f"{file}: cannot be read: {error.strerror or error}.")
            well = False
        except (BadSidecar, BadSettings) as error:
            complain(str(error))
            well = False
    return DONE if well else FOUND_WRONG


def _replay(
    file: Path, name: str, machine: Machine, settings: Settings, files: tuple[JobFile, ...], *, as_json: bool
) -> bool:
    """Tell what happens in one file; False when it ends before its end."""
    watch = replace(watch_of(name, _as_told_beside(file, machine), settings), files=files)
    recording = read_recording(file, _layout(file, machine))
    zone = zone_of(settings)
    if not as_json:
        say(f"{file.name}, times of {zone.key}")
    for row in _rows(recording, watch):
        if as_json:
            say(json.dumps(row, ensure_ascii=False))
        else:
            _print(row, zone)
    if recording.unparsed:
        complain(f"{file}: {recording.unparsed:,} lines are no lines of a recording and were passed over.")
    if recording.damage is not None:
        complain(f"{recording.damage}.")
    return recording.damage is None


def _planned(folder: Path | None, machine: Machine) -> tuple[JobFile, ...]:
    """The plans of the job files in `folder`. Raises Stop when it cannot be read; a file without a plan is told."""
    if folder is None:
        return ()
    files = []
    try:
        paths = sorted(path for path in folder.iterdir() if path.suffix.lower() in ENDINGS)
    except OSError as wrong:
        raise Stop(USAGE, f"--jobs {folder}: {wrong.strerror or wrong}.") from None
    for path in paths:
        try:
            files.append(JobFile(path.name, plan_file(path, motion_of(machine)), commands_of(path)[1]))
        except PlanTrouble as trouble:
            complain(f"{path}: {trouble}")
    return tuple(files)


def _as_told_beside(file: Path, machine: Machine) -> Machine:
    """The machine's settings with those that stand beside the recording."""
    sidecar = read_sidecar(file)
    return machine if sidecar is None else laid_over(machine, sidecar.settings, sidecar_path(file))


def _rows(recording: Recording, watch: Watch) -> Iterator[dict[str, Any]]:
    for effect in run_through(watch, recording, _progress if sys.stderr.isatty() else None):
        row = told(watch.name, effect)
        if row is None:
            continue
        if row["kind"] == "summary":
            row |= {"unreadable": recording.unparsed, "stepped_back": recording.stepped_back}
        yield row


def _layout(file: Path, machine: Machine) -> Layout | None:
    """Our own format by the file's name; another file is laid out as the machine's log is."""
    return None if file.name.endswith(OURS) else layout_of(machine.layout)


def _progress(lines: int) -> None:
    print(f"\r{lines:,} lines", end="\r", file=sys.stderr, flush=True)


def _machine(asked: argparse.Namespace, settings: Settings) -> tuple[str, Machine]:
    if asked.machine is not None:
        if asked.machine not in settings.machines:
            raise Stop(
                USAGE, f"--machine {asked.machine}: the settings name {', '.join(settings.machines) or 'no machine'}."
            )
        return asked.machine, settings.machines[asked.machine]
    if len(settings.machines) == 1:
        return next(iter(settings.machines.items()))
    return "machine", Machine()


def _print(row: dict[str, Any], zone: ZoneInfo) -> None:
    stamp = read_stamp(row.get("at", ""))
    at = "" if stamp is None else f"{datetime.fromtimestamp(stamp, zone):%Y-%m-%d %H:%M:%S}"
    match row["kind"]:
        case "alarm":
            seen = ", ".join(f"{key} {value}" for key, value in row["evidence"].items())
            say(f"{at}  alarm      {row['alarm']} {row['transition']} ({row['priority']})  {seen}")
        case "job":
            why = f" ({row['why']})" if row["why"] else ""
            say(f"{at}  job        {row['event']}, {row['origin']}{why}")
        case "summary":
            unread = f", {row['unreadable']:,} not readable" if row["unreadable"] else ""
            meant = f"{row['lines']:,} lines, {row['unparsed']:,} not understood{unread}"
            say(f"{meant}, {span(row['seconds'])} of traffic")
        case "event":
            say(f"{at}  noted      {row['event']}")
        case "condition":
            say(f"{at}  condition  {row['subject']} {row['from']} → {row['to']}")
        case axis:
            say(f"{at}  {axis:<10} {row['from']} → {row['to']}")
