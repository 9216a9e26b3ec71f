"""Rows of the record for programs, and times for people."""

from datetime import datetime
from enum import Enum
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from watchdog.core.traffic import stamp_text

_STAMPS = frozenset(
    {
        *("at", "opened", "quiet", "raised", "acknowledged", "returned", "cleared", "let_go", "created", "delivered"),
        *(
            "given_up",
            "not_before",
            "started",
            "ended",
            "loaded",
            "unloaded",
            "weighed",
            "done",
            "subject_at",
            "first_told",
        ),
    }
)


def plain(value: Any, name: str = "") -> Any:
    """NamedTuples as objects, stamps as RFC 3339."""
    if isinstance(value, tuple) and hasattr(value, "_asdict"):
        named: NamedTuple = value  # type: ignore[assignment]
        return {key: plain(item, key) for key, item in named._asdict().items()}
    if isinstance(value, tuple | list):
        return [plain(item) for item in value]
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, float) and name in _STAMPS:
        return stamp_text(value)
    return {key: plain(item, key) for key, item in value.items()} if hasattr(value, "items") else value


def when(stamp: float, zone: ZoneInfo) -> str:
    """Local day and minute."""
    return f"{datetime.fromtimestamp(stamp, zone):%Y-%m-%d %H:%M}"


def clock(stamp: float, zone: ZoneInfo) -> str:
    """Local time of day."""
    return f"{datetime.fromtimestamp(stamp, zone):%H:%M:%S}"


def visible(text: str) -> str:
    """`text` as it was, but that what would steer the terminal is shown by its number."""
    return "".join(
        letter if letter.isprintable() else letter.encode("unicode_escape", "backslashreplace").decode()
        for letter in text
    )
