"""`replay`: recordings through the same core at full speed, under their own clock. Sends nothing to anyone."""

import argparse
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, Stop, complain, say, settings_of, span
from watchdog.service.replay import Heard, told
from watchdog.service.replay import run as run_through
from watchdog.settings import Settings
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine
from watchdog.sources.recording import read_recording
from watchdog.sources.sidecar import BadSidecar, read_sidecar


def run(asked: argparse.Namespace) -> int:
    """Replay each file; exit status 1 when one could not be read."""
    try:
        settings = settings_of(asked)
        name, machine = _machine(asked, settings)
    except Stop as stop:
        complain(str(stop))
        return stop.status
    missing = [file for file in asked.files if not file.is_file()]
    for file in missing:
        complain(f"{file}: there is no such recording.")
    for file in asked.files:
        if file in missing:
            continue
        try:
            for row in _replayed(file, name, machine, settings):
                _print(row, as_json=asked.json)
        except (OSError, EOFError, BadSidecar) as error:
            complain(f"{file}: {error}")
            missing.append(file)
    return FOUND_WRONG if missing else DONE


def _replayed(file: Path, name: str, machine: Machine, settings: Settings) -> Iterator[dict[str, Any]]:
    sidecar = read_sidecar(file)
    if sidecar is not None and sidecar.settings:
        machine = Machine.model_validate({**machine.model_dump(exclude_unset=True), **sidecar.settings})
    watch = watch_of(name, machine, settings)
    for effect in run_through(watch, _heard(file), _progress if sys.stderr.isatty() else None):
        row = told(name, effect)
        if row is not None:
            yield row


def _heard(file: Path) -> Iterator[Heard]:
    yield from read_recording(file)


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


def _print(row: dict[str, Any], *, as_json: bool) -> None:
    if as_json:
        say(json.dumps(row, ensure_ascii=False))
        return
    at = row.get("at", "")[11:19]
    match row["kind"]:
        case "alarm":
            seen = ", ".join(f"{key} {value}" for key, value in row["evidence"].items())
            say(f"{at}  alarm      {row['alarm']} {row['transition']} ({row['priority']})  {seen}")
        case "job":
            why = f" ({row['why']})" if row["why"] else ""
            say(f"{at}  job        {row['event']}, {row['origin']}{why}")
        case "summary":
            say(f"{row['lines']:,} lines, {row['unparsed']:,} not understood, {span(row['seconds'])} of traffic")
        case "event":
            say(f"{at}  noted      {row['event']}")
        case kind:
            subject = row.get("subject", kind)
            say(
                f"{at}  {kind:<10} {subject if kind == 'condition' else ''} {row['from']} → {row['to']}".replace(
                    "  →", " →"
                )
            )
