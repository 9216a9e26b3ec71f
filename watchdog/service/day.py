"""The day's own notices, for all machines together: the watch is on, the closing statement, the digest."""

from collections.abc import Awaitable, Callable, Mapping
from dataclasses import replace
from zoneinfo import ZoneInfo

from watchdog.clock import Clock
from watchdog.core.effects import Tell
from watchdog.core.finding import Evidence
from watchdog.core.notices import day, digest
from watchdog.core.notices.notice import DIGEST
from watchdog.core.snapshot import Snapshot
from watchdog.core.timetable import Timetable
from watchdog.service.watching import Watching

EVERY = 20.0
"""s between two looks: a notice is at most so late"""


class Day:
    """Looks at the clock for the notices of a day. What it remembers is kept with the watch's own world."""

    def __init__(
        self,
        own: Watching,
        clock: Clock,
        zone: ZoneInfo,
        wanted: frozenset[str],
        digest_at: int | None,
        timetable: Callable[[], Timetable | None],
        machines: Callable[[], Mapping[str, Snapshot]],
        sum_up: Callable[[float, float], Awaitable[Evidence]],
    ) -> None:
        """`digest_at`: minute of the local day. `sum_up(since, until)` gives the digest's facts, stamps; OSError when the
        record cannot be read just now: the digest is then made up for later."""
        self._own = own
        self._clock = clock
        self._zone = zone
        self._wanted = wanted
        self._digest_at = digest_at
        self._timetable = timetable
        self._machines = machines
        self._sum_up = sum_up

    async def run(self) -> None:
        """For ever."""
        while True:
            await self.look()
            await self._clock.sleep(EVERY)

    async def look(self) -> None:
        """Say what it is time for."""
        at = self._clock.now()
        memories = self._own.memories
        kept, told = day.look(memories.day, self._timetable(), self._machines(), at)
        said: list[Tell] = [tell for tell in told if tell.alarm in self._wanted]
        if kept != memories.day:
            self._own.memories = replace(self._own.memories, day=kept)
        if DIGEST in self._wanted and self._digest_at is not None:
            said += await self._digest(self._digest_at)
        if said:
            self._own.say(at, tuple(said))

    async def _digest(self, minute: int) -> list[Tell]:
        at = self._clock.now()
        if not digest.due(self._own.memories.digest, minute, self._zone, at):
            return []
        try:
            facts = await self._sum_up(at.stamp - 86400.0, at.stamp)
        except OSError:
            return []
        kept, tell = digest.told(facts, self._zone, at)
        self._own.memories = replace(self._own.memories, digest=kept)
        return [tell]
