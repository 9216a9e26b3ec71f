"""`watch`: the service."""

import argparse
import asyncio
from collections.abc import Sequence

import structlog

from watchdog.cli.common import DONE, FOUND_WRONG, USAGE, Stop, complain, say, settings_file, settings_of
from watchdog.host.instance import AnotherInstance
from watchdog.record.faults import RecordUnusable
from watchdog.service.logs import set_up
from watchdog.service.run import watch
from watchdog.settings.fill import NoPrinter, with_found_printer
from watchdog.settings.notes import notes
from watchdog.settings.places import of_service


def run(asked: argparse.Namespace) -> int:
    """Watch until told to stop; with `--check` only read the settings."""
    try:
        settings = settings_of(asked, "as far as handed over" if asked.check else "needed")
        told = tuple(notes(settings, settings_file(asked)))
        if asked.check:
            return _check(told)
        if not 1 <= asked.rate <= 120:
            raise Stop(USAGE, "--rate: from 1 (real time) to 120; more than 1 only for a simulated machine.")
        settings = with_found_printer(settings)
    except Stop as stop:
        complain(str(stop))
        return stop.status
    except NoPrinter as none:
        complain(f"{none}\nTo see the watch at work without a printer: emberward demo")
        return FOUND_WRONG
    set_up()
    for note in told:
        structlog.get_logger().warning(note)
    try:
        asyncio.run(watch(settings, of_service(settings.places), rate=asked.rate))
    except (RecordUnusable, AnotherInstance) as unusable:
        complain(str(unusable))
        return FOUND_WRONG
    except OSError as error:
        complain(f"{error.filename or 'the service'}: {error.strerror or error}")
        return FOUND_WRONG
    return DONE


def _check(told: Sequence[str]) -> int:
    say("configuration good")
    for note in told:
        say(f"note: {note}.")
    return DONE
