"""Keeps the outbox true also while the record cannot be written.

A message that a server took but that could not be marked would go out again and again, and one that failed would be tried
without a pause. So what could not be written is kept here, is heeded, and is written before anything else is done.
"""

import asyncio
import sqlite3
from collections.abc import Collection, Mapping, Sequence
from math import inf
from typing import NamedTuple, Protocol

from watchdog.record.parcels import Attempt, Parcel

UNAVAILABLE = (OSError, sqlite3.Error)
"""what the record raises when it cannot be read or written for now"""


def due_from(parcel: Parcel) -> float:
    """Stamp from which `parcel` could go out: before it nothing is late."""
    return parcel.created if parcel.not_before is None else max(parcel.created, parcel.not_before)


class Outbox(Protocol):
    """What waits to be told. The service adapts the record to it.

    OSError and sqlite3.Error mean: not now. LookupError from `settle` means: one of these parcels is not in the record (it
    was begun anew after damage).
    """

    async def due(self, stamp: float) -> Sequence[Parcel]:
        """Undelivered parcels whose next try is due at `stamp`, oldest first."""

    async def settle(
        self, attempts: Sequence[Attempt], next_try: Mapping[int, float], delivered: Collection[int]
    ) -> None:
        """Log `attempts`, set the next try (stamp) by parcel, close the parcels that were delivered; one transaction."""

    async def told(self, person: str, since: float) -> Sequence[float]:
        """Stamps at which `person` was told something, from `since` on; what went out as one message counts once."""


class _Unwritten(NamedTuple):
    attempts: Sequence[Attempt]
    next_try: Mapping[int, float]
    delivered: Collection[int]

    def apart(self) -> "list[_Unwritten]":
        """The same, parcel by parcel."""
        parcels = {attempt.parcel for attempt in self.attempts} | set(self.next_try) | set(self.delivered)
        return [
            _Unwritten(
                [attempt for attempt in self.attempts if attempt.parcel == parcel],
                {parcel: self.next_try[parcel]} if parcel in self.next_try else {},
                {parcel} & set(self.delivered),
            )
            for parcel in sorted(parcels)
        ]


class Ledger:
    """The outbox, and what it does not know yet."""

    def __init__(self, outbox: Outbox) -> None:
        self._outbox = outbox
        self._unwritten: list[_Unwritten] = []
        self._writing = asyncio.Lock()  # people are served side by side; each entry is written once

    async def due(self, stamp: float, ahead: float = 0.0) -> tuple[Parcel, ...]:
        """What may go out at `stamp`, and what else waits for a next try up to `ahead` s later; nothing while the record
        cannot be read."""
        await self._write()
        held = {parcel: at for one in self._unwritten for parcel, at in one.next_try.items()}
        held |= {parcel: inf for one in self._unwritten for parcel in one.delivered}
        try:
            waiting = await self._outbox.due(stamp + ahead)
        except UNAVAILABLE:  # the record complains about itself; here it means: look again later
            return ()
        return tuple(parcel for parcel in waiting if held.get(parcel.id, stamp) <= stamp + ahead)

    async def settle(
        self, attempts: Sequence[Attempt], next_try: Mapping[int, float], delivered: Collection[int]
    ) -> None:
        """Write it, or keep it until it can be written."""
        if attempts or next_try or delivered:
            self._unwritten.append(_Unwritten(attempts, next_try, delivered))
            await self._write()

    async def _write(self) -> None:
        async with self._writing:
            while self._unwritten:
                try:
                    await self._outbox.settle(*self._unwritten[0])
                except LookupError:
                    apart = self._unwritten[0].apart()
                    # a parcel that the record does not know cannot be sent twice from there: alone, it needs no mark
                    self._unwritten[:1] = apart if len(apart) > 1 else []
                    continue
                except UNAVAILABLE:
                    return
                del self._unwritten[0]
