"""What waits to be told to one person, and what became of each attempt. Values only."""

from enum import StrEnum
from typing import NamedTuple

from watchdog.core.effects import Tell


class Outcome(StrEnum):
    """What became of one attempt on one route."""

    DELIVERED = "delivered"
    """a server took it; not proof that a person saw it"""
    FAILED = "failed"
    """may work later: no network, time-out, a temporary refusal"""
    REFUSED = "refused"
    """will never work on this route for this message (a permanent refusal such as SMTP 5xx)"""


class Parcel(NamedTuple):
    """One message to one person, not delivered yet."""

    id: int
    person: str
    """the person's name in the settings (a role)"""
    machine: str
    tell: Tell
    created: float
    """stamp at which the alarm transition and this parcel were committed"""
    attempts: int
    refused: frozenset[str]
    """names of routes that refused it for good"""
    not_before: float | None = None
    """stamp before which it was to wait; None: it was due at once"""
    loud: bool = False
    """by all of the person's routes at the same time"""
    why: str = ""
    """why this person"""


class Attempt(NamedTuple):
    """One attempt to deliver one parcel by one route."""

    parcel: int
    route: str
    at: float
    """stamp"""
    outcome: Outcome
    detail: str
    """what the route's server said, without secrets"""
