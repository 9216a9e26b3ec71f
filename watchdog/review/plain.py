"""A review as plain objects, for programs: names and numbers, stamps as RFC 3339."""

from enum import Enum
from typing import Any

from watchdog.core.traffic import stamp_text
from watchdog.review.figures import Review


def plain(review: Review) -> dict[str, Any]:
    """What fits into JSON."""
    told: dict[str, Any] = _plain(review)
    return told | {"since": stamp_text(review.since), "until": stamp_text(review.until)}


def _plain(value: Any) -> Any:
    if isinstance(value, tuple):
        named = getattr(value, "_asdict", None)
        return (
            [_plain(item) for item in value] if named is None else {key: _plain(item) for key, item in named().items()}
        )
    return value.value if isinstance(value, Enum) else value
