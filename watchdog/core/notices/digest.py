"""Once a day, what is worth knowing and asks for nothing today: counts of the last day, and what is due.

The counts come from the record; here is only when it is time.
"""

from datetime import datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

from watchdog.core.effects import Tell
from watchdog.core.finding import Evidence
from watchdog.core.moment import Moment
from watchdog.core.notices.notice import DIGEST, notice


class Memory(NamedTuple):
    """Ordinal of the local day for which it was told."""

    told: int = 0


def due(memory: Memory, minute: int, zone: ZoneInfo, at: Moment) -> bool:
    """Whether today's digest is to be made now. `minute`: of the local day, 0 to 1439.

    A watch that was off at that minute makes it up the same day.
    """
    here = datetime.fromtimestamp(at.stamp, zone)
    return memory.told < here.date().toordinal() and here.hour * 60 + here.minute >= minute


def told(facts: Evidence, zone: ZoneInfo, at: Moment) -> tuple[Memory, Tell]:
    """The digest with what the record says."""
    today = datetime.fromtimestamp(at.stamp, zone).date().toordinal()
    return Memory(today), notice(DIGEST, at, today, facts)
