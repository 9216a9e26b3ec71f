"""What the words of a message are made of, apart from the alarm table and the facts."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple
from zoneinfo import ZoneInfo

from watchdog.alerts.languages import ENGLISH, Language
from watchdog.alerts.matters import Matter
from watchdog.core.effects import Priority

MOST = 120
"""characters that a locked screen surely shows"""

SHAPES = {Priority.URGENT: "▲", Priority.HIGH: "■", Priority.LOW: "●"}
"""beside the word, since colour alone does not reach everybody (WCAG 2.2, 1.4.1)"""
OVER, NOTE = "○", "▷"


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


def no_link(matter: Matter) -> str | None:
    """Where there is no page."""
    return None


Links = Callable[[Matter], str | None]


@dataclass(frozen=True, slots=True)
class Wording:
    """What a message may say, in which language, and from where it is seen."""

    zone: ZoneInfo
    now: float
    """stamp at which the message is built"""
    late_after: float = 120.0
    """s after which a message says that it is late"""
    show_files: bool = False
    names: frozenset[str] = frozenset()
    """people's names; wherever one stands in the evidence it is replaced"""
    language: Language = ENGLISH
    links: Links = no_link
    """where this person answers a matter with one tap; None: there is no page, or nothing to answer"""
    outlast_links: Links = no_link
    """where this person allows the job to outlast the supervised hours; None: there is no page"""
    marks: Links = no_link
    """the mark by which this person's answer to a mail is known; None: no mailbox is read, or there is nothing to answer"""
    outlast_marks: Links = no_link
    """the same, for allowing the job to outlast the supervised hours"""


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
    """the same for mail, with the table of the last minutes and the marks of answers"""
    brief: str = ""
    """for an SMS: the first line with its word, and the link where one part holds both; '': `title` and `first` serve"""
    brief_in_two: str = ""
    """the same where two parts may be sent"""


def mark(matter: Matter, language: Language) -> tuple[str, str]:
    """Shape and word for how soon somebody must act."""
    if matter.over:
        return OVER, language.say("marks.over")
    priority = matter.tell.priority
    if matter.notice and priority is Priority.LOW:  # a graver one bears the mark of its priority
        return NOTE, language.say("marks.note")
    return SHAPES[priority], language.say(f"marks.{priority.value}")
