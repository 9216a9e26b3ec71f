"""Entering something into the record: through the running service, which owns it, or directly while none runs."""

import argparse
import getpass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from watchdog.cli.common import FOUND_WRONG, USAGE, Stop, ask_if_running, settings_file, surroundings_of
from watchdog.clock import Clock
from watchdog.core.moment import Moment
from watchdog.host.instance import AnotherInstance, only_instance
from watchdog.record.faults import RecordUnusable
from watchdog.record.reader import Reader
from watchdog.record.store import Record
from watchdog.service.control import NotRunning
from watchdog.service.entries import enter as enter_directly
from watchdog.service.said import one_line
from watchdog.settings import BadSettings, Settings
from watchdog.settings.fill import zone_of
from watchdog.settings.load import load_log_part
from watchdog.settings.places import Kept, of_caller


def enter(asked: argparse.Namespace, **request: Any) -> dict[str, Any]:
    """What the entry came to. Raises Stop with what speaks against it."""
    given = {name: value for name, value in request.items() if value is not None}
    if asked.by is not None:
        given["by"] = asked.by
    surroundings = surroundings_of(asked)
    if (said := getattr(asked, "at", None)) is not None:
        given["at"] = moment(said, zone_of(surroundings))
    places = of_caller(surroundings.places)
    try:
        return ask_if_running(places, given)
    except NotRunning:
        return _directly(asked, places, given)


def log_settings(asked: argparse.Namespace) -> Settings:
    """What of the settings these commands need. Raises Stop with every mistake in it."""
    try:
        return load_log_part(settings_file(asked))
    except BadSettings as bad:
        raise Stop(USAGE, str(bad)) from None


def _directly(asked: argparse.Namespace, places: Kept, request: dict[str, Any]) -> dict[str, Any]:
    settings = log_settings(asked)
    now = Clock().now()
    try:
        Reader.read(places.record).close()  # a folder that was mistyped must not get a record of its own
        with only_instance(places.state), Record.open(places.record, now) as record:
            by = one_line(str(request.get("by") or ""))[:80] or account()
            return enter_directly(record, settings, request, now.stamp, by).answer
    except AnotherInstance as other:
        raise Stop(FOUND_WRONG, f"{other} It does not answer at {places.socket}; nothing was entered.") from None
    except (ValueError, RecordUnusable) as refused:
        raise Stop(FOUND_WRONG, str(refused)) from None
    except OSError as trouble:
        raise Stop(FOUND_WRONG, f"{places.state}: {trouble.strerror or trouble}. Nothing was entered.") from None


def account() -> str:
    """Who runs the command, by the account."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "unknown account"


def now() -> Moment:
    """This moment."""
    return Clock().now()


def moment(written: str, zone: ZoneInfo) -> float:
    """The stamp of ``14:05`` (the last time that it was so), ``2026-03-02`` or ``2026-03-02T14:05``. Raises Stop."""
    here = datetime.fromtimestamp(now().stamp, zone)
    try:
        if len(written) <= 5 and ":" in written:
            clock = datetime.strptime(written, "%H:%M").time()  # noqa: DTZ007 - only the time of day is taken from it
            found = datetime.combine(here.date(), clock, zone)
            return (found if found <= here else found - timedelta(days=1)).timestamp()
        read = datetime.fromisoformat(written)
    except ValueError:
        raise Stop(USAGE, f"{written[:40]!r} is no time. Write 14:05, 2026-03-02 or 2026-03-02T14:05.") from None
    found = read if read.tzinfo is not None else read.replace(tzinfo=zone)
    if found > here:
        raise Stop(USAGE, f"{written} lies ahead. Enter it when it has been done.")
    return found.timestamp()
