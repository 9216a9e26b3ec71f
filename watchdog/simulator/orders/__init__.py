"""What each order does, one subject a file."""

from __future__ import annotations

from watchdog.simulator.orders import cards, heat, moving, people, questions
from watchdog.simulator.orders.kinds import Handler

HANDLERS: dict[str, Handler] = {
    **heat.HANDLERS,
    **moving.HANDLERS,
    **people.HANDLERS,
    **cards.HANDLERS,
    **questions.HANDLERS,
}
"""by code; a handler that waits gives an iterator of waits, one that does not gives None"""
