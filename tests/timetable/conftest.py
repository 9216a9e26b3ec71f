"""Calendars written line by line."""

from collections.abc import Callable

import pytest


@pytest.fixture
def calendar_of() -> Callable[..., bytes]:
    """A calendar whose events are given as lines each; `zones` are lines of VTIMEZONE components."""

    def write(*events: list[str], zones: str = "") -> bytes:
        lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:-//Tidewater Evening College//EN", *zones.split()]
        for nth, event in enumerate(events):
            uid = [] if any(line.startswith("UID") for line in event) else [f"UID:{nth}@tidewater.example"]
            lines += ["BEGIN:VEVENT", *uid, "DTSTAMP:20260101T000000Z", *event, "END:VEVENT"]
        return "\r\n".join([*lines, "END:VCALENDAR", ""]).encode()

    return write
