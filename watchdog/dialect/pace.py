"""How often the watch asks, and what it remembers of its questions."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, NamedTuple

NEVER = float("-inf")
_NOTHING: Mapping[str, Any] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Pace:
    """The pace of asking. One query a second costs a machine nothing; tens a second can starve it of short moves."""

    temperature: float = 2.0  # s; a heater out of control gains a few °C in that time. Common practice, no source
    progress: float = 2.0  # s, in a job or when that cannot be told; the shortest stall limit is far longer
    progress_idle: float = 5.0  # s; a job started at the panel is then seen within 5 s
    slack: float = 0.1  # s that a query may go out early: a caller that looks once a second would else skip a turn
    report: int = 2  # s between automatic reports; whole seconds, 1 to 60, by the rule of M155
    timeout: float = (
        5.0  # s without `ok` and without a sign of life; an answer takes milliseconds unless the queue is full
    )
    repeat: float = 10.0  # s from a query that timed out to the next: unanswered ones pile up in a small receive buffer
    patience: float = 60.0  # s: an `ok` lost on the wire is given up although the machine lives; doubles each time
    verdict: float = 1.5  # s after which an acknowledged query that brought nothing counts as one without answer
    name: float = (
        60.0  # s between two questions for the file's name at the least: the machine walks its directory for it
    )
    barren: int = 3  # such queries in a row: not supported. One can be noise
    missed: float = 3.0  # report intervals without a report: ask again instead
    rearm: float = 300.0  # s until automatic reports that do not come are ordered again (a restart nobody saw)


class Asked(NamedTuple):
    """One query's history since the connect or the last banner."""

    at: float = NEVER  # s, elapsed, of the last time
    tries: int = 0
    taken: bool = False  # `ok` came for the last one
    answered: bool = False  # and so did what it asked for
    barren: int = 0  # in a row taken and not answered


class Polling(NamedTuple):
    """What is remembered between lines; a named tuple, since every line makes a new one."""

    up: bool = False  # the link is open
    greeted: bool = False  # the machine has spoken since the connect or the last banner
    writing: bool = False  # a file is being written to the card: anything sent might end up in it
    outstanding: str | None = None  # the query that is not acknowledged yet
    sent_at: float = NEVER  # s, elapsed, of the last query
    quiet_since: float = NEVER  # s, elapsed: the time-out counts from here
    not_before: float = NEVER  # s, elapsed: no query earlier than this
    unanswered: int = 0  # queries in a row that timed out
    asked: Mapping[str, Asked] = _NOTHING
    unsupported: frozenset[str] = frozenset()
    described: bool = False  # M115 was acknowledged on this link
    listed: bool = False  # M503 was acknowledged since the connect or the last banner
    capabilities: Mapping[str, bool] = _NOTHING
    temperatures_reported: float | None = None  # s, elapsed, of the last report that nobody asked for
    progress_reported: float | None = None
    job_size: int = 0  # bytes of the open file; 0 when none is known
    job_byte: int = 0
    name_known: bool = False
    name_asked: bool = False

    def able(self, capability: str) -> bool | None:
        """Whether the controller says that it can; None when it has not said."""
        return self.capabilities.get(capability)

    def last(self, query: str) -> float:
        """s, elapsed, when `query` was last sent; minus infinity when never."""
        asked = self.asked.get(query)
        return NEVER if asked is None else asked.at

    def tries(self, query: str) -> int:
        """How often `query` was sent since the connect or the last banner."""
        asked = self.asked.get(query)
        return 0 if asked is None else asked.tries
