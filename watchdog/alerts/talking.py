"""How often each person has been spoken to of late, so that the next message keeps its distance.

Urgent messages neither wait nor count. What waits stays in the outbox and goes as one message with all that has come
meanwhile. The stamps are read from the record once for each person; from then on they are known from the deliveries.
"""

from collections.abc import Iterable

from watchdog.alerts.ledger import UNAVAILABLE, Outbox
from watchdog.core.effects import Priority, TellKind
from watchdog.core.routing.pace import HOUR, Pace, may_send_at
from watchdog.record.parcels import Parcel


class Talking:
    """Who was told when."""

    def __init__(self, outbox: Outbox, pace: Pace) -> None:
        self._outbox = outbox
        self._pace = pace
        self._sent: dict[str, list[float]] = {}
        self._urgent: set[tuple[str, float]] = set()

    async def may(self, person: str, parcels: Iterable[Parcel], now: float) -> bool:
        """Whether one message of `parcels` may go to `person` now.

        While the record cannot be read nobody is kept waiting for it.
        """
        if urgent(parcels):
            return True
        if person not in self._sent:
            try:
                recorded = await self._outbox.told(person, now - HOUR)
            except UNAVAILABLE:
                return True
            # the record tells urgent ones with the others: those since the start are known
            self._sent[person] = [stamp for stamp in recorded if (person, stamp) not in self._urgent]
            self._urgent = {(name, stamp) for name, stamp in self._urgent if name != person}
        return may_send_at(self._pace, self._sent[person], False, now) <= now

    def told(self, person: str, parcels: Iterable[Parcel], at: float) -> None:
        """A message of `parcels` reached `person` at `at`."""
        if urgent(parcels):
            if person not in self._sent:
                self._urgent = {one for one in self._urgent if one[1] > at - HOUR} | {(person, at)}
        elif (sent := self._sent.get(person)) is not None:  # else the record tells when it is asked first
            self._sent[person] = [stamp for stamp in sent if at - HOUR < stamp <= at] + [at]


def urgent(parcels: Iterable[Parcel]) -> bool:
    """Whether one of them must not wait. That an urgent alarm is over may."""
    return any(
        parcel.tell.priority is Priority.URGENT and parcel.tell.kind is not TellKind.ALL_CLEAR for parcel in parcels
    )
