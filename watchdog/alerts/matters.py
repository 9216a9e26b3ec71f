"""What waits for one person, put together by occurrence, so that late messages become one."""

import shlex
from collections.abc import Collection
from typing import NamedTuple

from watchdog.core.alarms.telling import TO_ACKNOWLEDGE
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
    why: str = ""
    """why this person, as the routing says it"""

    @property
    def over(self) -> bool:
        """The alarm has returned."""
        return self.tell.kind is TellKind.ALL_CLEAR

    @property
    def notice(self) -> bool:
        """It is no alarm: told once, and nobody need acknowledge it."""
        return self.tell.kind is TellKind.NOTICE

    @property
    def asks(self) -> bool:
        """A person is to acknowledge it: it stands, or has returned and waits for that."""
        return not self.notice and (not self.over or TO_ACKNOWLEDGE in self.tell.evidence)

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
    """`parcels` of one person, one entry an occurrence; the most urgent that still stands comes first, a notice after the
    alarms of its priority, what is over last."""
    grouped: dict[tuple[str, str, int], list[Parcel]] = {}
    for parcel in sorted(parcels, key=lambda parcel: parcel.id):
        grouped.setdefault((parcel.machine, parcel.tell.alarm, parcel.tell.occurrence), []).append(parcel)
    found = [
        Matter(
            machine,
            waiting[-1].tell,
            waiting[-1].id,
            any(parcel.tell.kind is TellKind.ALARM for parcel in waiting),
            waiting[-1].why,
        )
        for (machine, _alarm, _occurrence), waiting in grouped.items()
    ]
    return tuple(sorted(found, key=_order))


def _order(matter: Matter) -> tuple[bool, int, bool, float, int]:
    return matter.over, _RANK[matter.tell.priority], matter.notice, matter.tell.since.stamp, matter.newest
