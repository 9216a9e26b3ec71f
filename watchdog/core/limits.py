"""How a detector declares a limit, so that the settings, the example file and the manual can tell its unit and its reason."""

from dataclasses import field
from typing import Any


def limit(default: float, unit: str, why: str, *, least: float = 0.0, most: float = 1e6) -> Any:
    """A field of a detector's frozen `Limits`.

    `unit` is written as in the manual ("s", "°C", "1" for a plain number). `why` names the reason: a physical relation, a
    published source, 'common practice, no source', or this machine's own history. `least` and `most` bound what the
    settings accept.
    """
    return field(default=default, metadata={"unit": unit, "why": why, "least": least, "most": most})
