"""What is still to be said. Bounded; what goes first when the room is full is written down here.

    ALARM   an alarm's transition, or an alarm as it stands: goes last
    STATE   a machine as it is: the oldest goes first, since the next one says more
    NEWS    other events: go with the states

Of a retained topic only the newest message waits, in the place of the one before. Everything goes out in the order in which it
was put in.
"""

from collections import Counter, OrderedDict
from enum import StrEnum
from typing import NamedTuple


class Kind(StrEnum):
    """How much a message matters when the room is full."""

    ALARM = "alarm"
    STATE = "state"
    NEWS = "news"


class Said(NamedTuple):
    """One message."""

    topic: str
    payload: bytes
    retain: bool
    kind: Kind


class Ticket(NamedTuple):
    """One message in its place."""

    key: str | int
    number: int
    said: Said


class Waiting:
    """A queue for one broker, and what is retained there."""

    def __init__(self, room: int) -> None:
        """`room`: messages that may wait, of all kinds together."""
        self.dropped: Counter[Kind] = Counter()
        self._room = room
        self._number = 0
        self._alarms: OrderedDict[str | int, Ticket] = OrderedDict()
        self._others: OrderedDict[str | int, Ticket] = OrderedDict()
        self._retained: dict[str, Said] = {}

    def __len__(self) -> int:
        return len(self._alarms) + len(self._others)

    def put(self, said: Said) -> None:
        """`said` waits; of a retained topic it takes the place of what waits there."""
        if said.retain and said.payload:
            self._retained[said.topic] = said
        elif said.retain:
            self._retained.pop(said.topic, None)
        self._wait(said)

    def first(self) -> Ticket | None:
        """What is to be said next; it goes on waiting until `done`."""
        heads = [next(iter(queue.values())) for queue in (self._alarms, self._others) if queue]
        return min(heads, key=lambda ticket: ticket.number, default=None)

    def done(self, ticket: Ticket) -> None:
        """`ticket` has been said. Newer words on the same topic stay."""
        queue = self._queue(ticket.said.kind)
        if queue.get(ticket.key) == ticket:
            del queue[ticket.key]

    def anew(self) -> None:
        """Everything retained waits again: the broker may have forgotten it."""
        for said in self._retained.values():
            if said.topic not in self._queue(said.kind):
                self._wait(said)

    def _wait(self, said: Said) -> None:
        queue = self._queue(said.kind)
        self._number += 1
        key = said.topic if said.retain else self._number
        before = queue.get(key)
        queue[key] = Ticket(key, self._number if before is None else before.number, said)
        if len(self) > self._room:
            _, gone = (self._others or self._alarms).popitem(last=False)
            self.dropped[gone.said.kind] += 1

    def _queue(self, kind: Kind) -> "OrderedDict[str | int, Ticket]":
        return self._alarms if kind is Kind.ALARM else self._others
