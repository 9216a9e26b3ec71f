"""What the words of a message are made of, apart from the alarm table and the facts."""

from dataclasses import dataclass
from typing import NamedTuple
from zoneinfo import ZoneInfo

from watchdog.core.effects import Priority

MOST = 120
"""characters that a locked screen surely shows"""

MARKS = {Priority.URGENT: "▲ URGENT", Priority.HIGH: "■ HIGH", Priority.LOW: "● LOW"}
"""word and shape, since colour alone does not reach everybody (WCAG 2.2, 1.4.1)"""

OVER = "○ OVER"


class Minute(NamedTuple):
    """One line of the small table in a mail. None: not known."""

    stamp: float
    nozzle: float | None
    """°C"""
    target: float | None
    """°C; 0 = off"""
    bed: float | None
    """°C"""
    progress: float | None
    """% of the job"""


@dataclass(frozen=True, slots=True)
class Wording:
    """What a message may say, and from where it is seen."""

    zone: ZoneInfo
    now: float
    """stamp at which the message is built"""
    late_after: float = 120.0
    """s after which a message says that it is late"""
    show_files: bool = False
    names: frozenset[str] = frozenset()
    """people's names; wherever one stands in the evidence it is replaced"""


class Words(NamedTuple):
    """One message, for every kind of route."""

    title: str
    """word, shape and machine"""
    subject: str
    """for mail: word, shape and the whole first line"""
    first: str
    """at most 120 characters, complete by itself"""
    body: str
    """plain text; begins with `first`"""
    html: str
    """the same for mail, with the table of the last minutes"""
