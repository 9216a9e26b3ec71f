"""Events of the log that ask nothing of anybody."""

from watchdog.core.effects import Noted
from watchdog.record.pen import Pen, facts_text


def note(pen: Pen, machine: str, noted: Noted) -> bool:
    """Record `noted`; whether it is new."""
    added = pen.run(
        "INSERT INTO noted (machine, kind, facts, elapsed, stamp) VALUES (?, ?, ?, ?, ?)"
        " ON CONFLICT (machine, elapsed, kind, facts, stamp) DO NOTHING",
        machine,
        noted.kind,
        facts_text(noted.facts),
        *noted.at,
    )
    return added > 0
