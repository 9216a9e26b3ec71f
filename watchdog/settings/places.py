"""Where things are kept: what systemd hands over, else the XDG base directories, unless the settings say otherwise."""

import os
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from watchdog.settings.model import Places

RECORD = "incidents.db"
CALENDARS = "calendars"
"""folder, in that of the state, of the calendars' last good copies"""
SOCKET = "control.sock"
SYSTEM_STATE = Path("/var/lib/emberward")
SYSTEM_SOCKET = Path("/run/emberward") / SOCKET


class Kept(NamedTuple):
    """The places in use."""

    state: Path
    """folder of the incident log, the lock and the recordings"""
    socket: Path
    """the control socket"""

    @property
    def record(self) -> Path:
        """The incident log."""
        return self.state / RECORD

    @property
    def recordings(self) -> Path:
        """The folder of traffic recordings."""
        return self.state / "recordings"


def of_service(places: Places, environment: Mapping[str, str] = os.environ) -> Kept:
    """Where the service keeps its things."""
    state = places.state or _first(environment.get("STATE_DIRECTORY")) or _user_state(environment)
    if places.socket is not None:
        return Kept(state, places.socket)
    run = _first(environment.get("RUNTIME_DIRECTORY"))
    if run is None:  # a state folder of its own has its own socket: two watches must not share one
        run = _user_run(environment) if places.state is None else state / "run"
    return Kept(state, run / SOCKET)


def of_caller(places: Places, environment: Mapping[str, str] = os.environ) -> Kept:
    """Where a command finds the service's things: a running system service first, else the caller's own."""
    own = of_service(places, environment)
    if places.socket is None and not own.socket.exists() and _exists(SYSTEM_SOCKET):
        own = own._replace(socket=SYSTEM_SOCKET)
    if places.state is None and not own.record.exists() and _exists(SYSTEM_STATE / RECORD):
        own = own._replace(state=SYSTEM_STATE)
    return own


def _exists(place: Path) -> bool:
    try:
        return place.exists()
    except OSError:  # a folder that this account may not enter
        return False


def _first(handed: str | None) -> Path | None:
    """systemd hands several folders over with colons between."""
    return Path(handed.split(":")[0]) if handed else None


def _user_state(environment: Mapping[str, str]) -> Path:
    return Path(environment.get("XDG_STATE_HOME") or Path.home() / ".local" / "state") / "emberward"


def _user_run(environment: Mapping[str, str]) -> Path:
    base = environment.get("XDG_RUNTIME_DIR")
    return Path(base) / "emberward" if base else _user_state(environment) / "run"
