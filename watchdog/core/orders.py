"""What is to be put into the outbox: one message for one person, when and how it may go out."""

from typing import NamedTuple

from watchdog.core.effects import Tell


class Order(NamedTuple):
    """One message to one person, as the routing decided."""

    tell: Tell
    person: str
    """name in the settings (a role)"""
    not_before: float | None = None
    """stamp before which it waits (collected until the break); None: at once"""
    loud: bool = False
    """True: all of the person's routes at the same time, not one after the other"""
    why: str = ""
    """why this person: 'on duty', 'nobody answered for 10 min', … for the log"""
