"""What waits for one person, put together by occurrence, so that late messages become one."""

import shlex
from collections.abc import Collection
from typing import NamedTuple

from watchdog.core.effects import Priority, Tell, TellKind
from watchdog.record.parcels import Parcel

_RANK = {Priority.URGENT: 0, Priority.HIGH: 1, Priority.LOW: 2}


class Matter(NamedTuple):
    """All that waits for one person about one occurrence of one alarm."""

    machine: str
    tell: Tell
    """the latest news; it is what counts"""
    newest: int
    """id of the parcel that brought it"""
    unseen: bool
    """the first message about it has not reached this person yet"""

    @property
    def over(self) -> bool:
        """The alarm has returned."""
        return self.tell.kind is TellKind.ALL_CLEAR

    @property
    def reminds(self) -> bool:
        """It repeats what this person has been told before."""
        return self.tell.kind is TellKind.REMINDER and not self.unseen

    @property
    def id(self) -> str:
        """How the commands call it: machine and alarm."""
        return f"{self.machine}/{self.tell.alarm}"

    @property
    def acknowledge(self) -> str:
        """The command that takes it on."""
        return f"emberward acknowledge {shlex.quote(self.id)}"


def matters(parcels: Collection[Parcel]) -> tuple[Matter, ...]:
    """`parcels` of one person, one entry an occurrence; the most urgent that still stands comes first, what is over last."""
    grouped: dict[tuple[str, str, int], list[Parcel]] = {}
    for parcel in sorted(parcels, key=lambda parcel: parcel.id):
        grouped.setdefault((parcel.machine, parcel.tell.alarm, parcel.tell.occurrence), []).append(parcel)
    found = [
        Matter(
            machine,
            waiting[-1].tell,
            waiting[-1].id,
            any(parcel.tell.kind is TellKind.ALARM for parcel in waiting),
        )
        for (machine, _alarm, _occurrence), waiting in grouped.items()
    ]
    return tuple(sorted(found, key=lambda it: (it.over, _RANK[it.tell.priority], it.tell.since.stamp, it.newest)))
