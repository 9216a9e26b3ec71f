"""What stands beside a recording: which machine, when and how it was taken, what is odd in it, settings for a replay.

controller = "family A, current generation"
taken = 2026-03-02
how = "serial tap"
odd = ["the first report lacks its target"]

[settings]
material = "pla"
"""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from difflib import get_close_matches
from pathlib import Path


class BadSidecar(ValueError):
    """The file beside a recording is wrong; the message names every place and what would be right."""


@dataclass(frozen=True, slots=True)
class Sidecar:
    """What is known about a recording. None and empty: not told."""

    controller: str | None = None
    """the controller's family or traits"""
    taken: date | None = None
    how: str | None = None
    odd: tuple[str, ...] = ()
    settings: Mapping[str, object] = field(default_factory=dict)
    """machine settings for the replay, as in the configuration file"""


_KNOWN = ("controller", "taken", "how", "odd", "settings")


def sidecar_path(recording: Path) -> Path:
    """The file beside `recording`: its name with `.toml` in place of `.traffic` (and `.gz`)."""
    plain = recording.with_suffix("") if recording.suffix == ".gz" else recording
    return plain.with_suffix(".toml")


def read_sidecar(recording: Path) -> Sidecar | None:
    """What stands beside `recording`; None when there is no such file. BadSidecar with all its faults at once."""
    path = sidecar_path(recording)
    try:
        told = tomllib.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        return None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as fault:
        raise BadSidecar(f"{path}: {fault}") from fault
    faults = [f"{path}: {name}: no such entry.{_nearest(name)}" for name in told if name not in _KNOWN]
    faults += [
        f"{path}: {name}: is no text. Write it in quotes"
        for name in ("controller", "how")
        if not isinstance(told.get(name, ""), str)
    ]
    taken = _date(told.get("taken"))
    if taken is None and "taken" in told:
        faults.append(f"{path}: taken: {told['taken']!r} is no date. Write it as 2026-03-02")
    odd = told.get("odd", [])
    odd = [odd] if isinstance(odd, str) else odd
    if not isinstance(odd, list) or not all(isinstance(oddity, str) for oddity in odd):
        faults.append(f'{path}: odd: is no list of texts. Write odd = ["…", "…"]')
    settings = told.get("settings", {})
    if not isinstance(settings, dict):
        faults.append(f"{path}: settings: is no table. Write [settings] on a line of its own")
    if faults:
        raise BadSidecar("\n".join(faults))
    return Sidecar(told.get("controller"), taken, told.get("how"), tuple(odd), settings)


def _date(told: object) -> date | None:
    if isinstance(told, datetime):
        return told.date()
    if isinstance(told, date):
        return told
    try:
        return date.fromisoformat(told) if isinstance(told, str) else None
    except ValueError:
        return None


def _nearest(name: str) -> str:
    near = get_close_matches(name, _KNOWN, 1)
    return f" Did you mean {near[0]}?" if near else f" There are {', '.join(_KNOWN)}"
