"""What the page asks of the service. The page itself knows nothing of machines and alarms."""

from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple, Protocol

from watchdog.page.links import Claim


class Standing(StrEnum):
    """How it stands with what a link is about."""

    OPEN = "open"
    """nobody has answered"""
    ANSWERED = "answered"
    """somebody has"""
    OVER = "over"
    """it has ended; an answer would mean nothing"""
    UNKNOWN = "unknown"
    """the service knows nothing of it (any more)"""


class Answer(NamedTuple):
    """What somebody has done about it."""

    by: str | None
    """role; None when that is not known"""
    at: float
    """stamp"""
    how: str | None = None
    """in words that go on after 'by', such as 'a link' or 'the command'; None when that is not known"""
    answer: str | None = None
    """for a first layer: 'good', 'bad' or 'skipped'"""


class Situation(NamedTuple):
    """What the page shows about one claim. Words for people: no file name, no person's name."""

    standing: Standing
    what: str
    """what is the matter, as in the message: 'nozzle hot and idle'"""
    action: str | None = None
    """the first thing to do"""
    then: str | None = None
    """what comes after it, in whole sentences, with its cautions"""
    since: float | None = None
    """stamp; None: not known"""
    now: str | None = None
    """how the machine is now, in words; None: cannot be told"""
    answered: Answer | None = None
    """the first answer that counted; also when it is over"""


class Outcome(NamedTuple):
    """What came of a tap."""

    done: bool
    """True: this very tap did it. False: nothing was changed by it"""
    situation: Situation
    """how it stands after it"""


class SetAside(NamedTuple):
    """What somebody has silenced for a bounded time. Why is not told here: everybody may read the page."""

    until: float
    """stamp at which it ends by itself"""
    what: str | None = None
    """the alarm, in words; None: the whole machine, which is out of service"""


class MachineLine(NamedTuple):
    """One machine in the overview."""

    machine: str
    now: str | None
    """how it is, in words; None: cannot be told"""
    alarms: tuple[str, ...] = ()
    """those that stand, in words"""
    aside: tuple[SetAside, ...] = ()
    """what is shelved, and whether the machine is out of service"""


class Deeds(Protocol):
    """The service, as the page sees it. Any exception is a fault that the page tells in words, counts and survives."""

    async def look(self, claim: Claim) -> Situation:
        """How it stands; changes nothing."""

    async def act(self, claim: Claim, answer: str | None) -> Outcome:
        """Do what the link is for.

        Called only after a tap, never twice at a time, and only when `look` has just said that it is open. `answer` is 'good',
        'bad' or 'skipped' for a first layer, else None. Whoever answered in between by another way was first: then
        `done` is False.
        """

    async def overview(self) -> Sequence[MachineLine]:
        """All machines, for the status page."""
