"""Who is told, and by which way. Values only; `settings` fills them."""

from dataclasses import dataclass, field

from watchdog.core.effects import Priority


@dataclass(frozen=True, slots=True)
class Route:
    """One way to reach one person: a phone push, an SMS gateway, a mailbox."""

    name: str
    """how the settings and the log call it; holds no secret"""
    url: str = field(repr=False)
    """one address in the form that Apprise takes. A secret: never logged, never printed, never an argument of a process"""
    brief: bool = False
    """True sends the first line alone, where every further line costs (an SMS gateway)"""
    two_parts: bool = False
    """True spends a second part of an SMS on the link where the first has no room for it"""


@dataclass(frozen=True, slots=True)
class Person:
    """One person, known by role."""

    name: str
    routes: tuple[Route, ...]
    """in the order in which they are tried"""
    priorities: frozenset[Priority] = frozenset(Priority)
    """what this person is told about"""
    show_files: bool = False
    """True lets file names and a machine's own words stand in the message; both can hold a pupil's name"""
    language: str = "en"
    """in which messages are written: one of `languages.CODES`"""
