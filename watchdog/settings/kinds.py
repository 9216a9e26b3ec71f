"""Values that only certain words fit: zones, materials, alarms, ports. Each refusal goes on after what was found."""

import os
import re
from pathlib import Path
from typing import Annotated
from zoneinfo import ZoneInfo, available_timezones

from pydantic import AfterValidator, BeforeValidator

from watchdog.core.alarms.table import TABLE
from watchdog.core.hours import Span, day_of, read_span
from watchdog.core.materials import MATERIALS
from watchdog.settings.problems import nearest
from watchdog.settings.quantities import Place

_ADDRESS = re.compile(r"[a-z][a-z0-9+.-]*://.", re.IGNORECASE)


def _zone(name: object) -> object:
    if isinstance(name, ZoneInfo):
        return name
    if not isinstance(name, str) or name not in available_timezones():
        hint = nearest(name, available_timezones()) if isinstance(name, str) else 'Write it as "Europe/Lisbon".'
        raise ValueError(f"is no time zone known here. {hint}")
    return ZoneInfo(name)


def _material(name: str) -> str:
    if name.upper() not in MATERIALS:
        raise ValueError(f"is no material known here. {nearest(name.upper(), MATERIALS)}")
    return name.upper()


def _alarm(name: str) -> str:
    if name not in TABLE:
        raise ValueError(f"is no alarm. {nearest(name, TABLE)}")
    return name


def _port(written: str) -> str:
    if not written.startswith("/") and not _ADDRESS.match(written):
        raise ValueError('is no port. Write "/dev/serial/by-id/…", or "socket://host:port"')
    return written


def _time_format(written: str) -> str:
    if written not in ("iso", "epoch", "epoch-ms") and "%" not in written:
        raise ValueError("is no time format. Write iso, epoch, epoch-ms, or a format such as %d.%m.%Y %H:%M:%S")
    return written


def _socket(place: Path) -> Path:
    if len(os.fsencode(place)) > 107:
        raise ValueError(
            "is too long for a socket: the system takes at most 107 bytes. Choose a folder nearer to the root"
        )
    return place


def _day(written: object) -> object:
    """Spans of one day, in order."""
    if not isinstance(written, list | tuple) or not all(isinstance(span, str) for span in written):
        raise ValueError('is no list of spans. Write it as ["13:00-21:00"]')
    try:
        return day_of([read_span(span) for span in written])
    except ValueError as wrong:
        raise ValueError(f"does not fit: {wrong}") from None


def _credential(written: str) -> str:
    if not written or "/" in written or written.startswith("."):
        raise ValueError("is no name of a credential: write the name that LoadCredential= gives it, no path")
    return written


Zone = Annotated[ZoneInfo, BeforeValidator(_zone)]
"""an IANA time zone"""
Material = Annotated[str, AfterValidator(_material)]
"""a plastic of `core.materials`, in capitals"""
AlarmName = Annotated[str, AfterValidator(_alarm)]
"""an alarm of the table"""
Port = Annotated[str, AfterValidator(_port)]
"""a device file, or an address of a serial server"""
TimeFormat = Annotated[str, AfterValidator(_time_format)]
"""how a log writes the time"""
Socket = Annotated[Place, AfterValidator(_socket)]
"""where a Unix socket can lie"""
Credential = Annotated[str, AfterValidator(_credential)]
"""the name of a systemd credential"""
Day = Annotated[tuple[Span, ...], BeforeValidator(_day)]
"""spans of supervised hours in one day"""
