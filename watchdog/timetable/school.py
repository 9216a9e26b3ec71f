"""All calendars of the school and the week of the settings as one timetable, kept up to date.

A calendar that cannot be read is a trouble: the hours then count as supervised and the watch as impaired, so that somebody is
told; what its last good copy says of lessons and duties still counts.
"""

import asyncio
from collections.abc import Awaitable, Callable
from datetime import datetime, timedelta
from typing import Any

from watchdog.clock import Clock
from watchdog.core.timetable import Timetable
from watchdog.core.traffic import stamp_text
from watchdog.timetable.asking import ask
from watchdog.timetable.errand import Answer, Errand
from watchdog.timetable.kept import Kept, seen
from watchdog.timetable.options import Calendar, Options

LOOK = 20.0
"""s between two looks at what is due: a file that was changed counts within two of them; project's choice"""
_AT_ONCE = 2  # children: a small computer has other work, and one that is stuck does not hold up the rest
_FIRST = 10.0  # s beyond one calendar's limit that the first timetable waits for all of them


class School:
    """Reads every calendar at the start, an address again every so often, a file when it has changed, all each new day."""

    def __init__(
        self,
        options: Options,
        clock: Clock,
        tell: Callable[[Timetable], None],
        report: Callable[[tuple[str, ...]], None],
        ask: Callable[[Errand], Awaitable[Answer]] = ask,
    ) -> None:
        """`tell` hears each timetable that differs from the last, the first one included; `report` likewise all troubles
        that stand, () when none does any more. Both are called in the event loop and must not block."""
        self._options, self._clock, self._tell, self._report, self._ask = options, clock, tell, report, ask
        self._kept = {calendar.name: Kept() for calendar in options.calendars}
        self._turns = asyncio.Semaphore(_AT_ONCE)
        self._began = clock.now().elapsed
        self._told = False
        self._troubles: tuple[str, ...] = ()
        self.timetable = self._made()
        """the one that was told last; before the first, one that cannot be relied on where there are calendars"""

    async def run(self) -> None:
        """Keep the timetable up to date for ever; without calendars tell it once and return."""
        await self._say()
        async with asyncio.TaskGroup() as each:  # a calendar on a network share that hangs holds up no other
            for calendar in self._options.calendars:
                each.create_task(self._follow(calendar), name=f"calendar {calendar.name}")

    async def look(self) -> None:
        """Read what is due by now, one calendar after another, and tell what has changed."""
        for calendar in self._options.calendars:
            await self._look(calendar)
        await self._say()

    async def read_once(self, at: float) -> Timetable:
        """Read every calendar for the days around the stamp `at`, for a command that asks one question; nobody is told."""
        await asyncio.gather(*(self._look(calendar, at) for calendar in self._options.calendars))
        return self._made()

    @property
    def troubles(self) -> tuple[str, ...]:
        """Why calendars cannot be relied on, a sentence each."""
        return tuple(f"calendars.{name}: {kept.trouble}" for name, kept in self._kept.items() if kept.trouble)

    @property
    def remarks(self) -> tuple[str, ...]:
        """What else is worth knowing: a copy in use, duties that name nobody."""
        return tuple(f"calendars.{name}: {words}" for name, kept in self._kept.items() for words in kept.remarks)

    def facts(self) -> dict[str, Any]:
        """What `status` tells of it."""
        known_until = self.timetable.known_until
        return {
            "calendars": {name: len(kept.periods) for name, kept in self._kept.items()},
            "known_until": None if known_until is None else stamp_text(known_until),
            "troubles": list(self.troubles),
            "remarks": list(self.remarks),
        }

    async def _follow(self, calendar: Calendar) -> None:
        while True:
            await self._look(calendar)
            await self._say()
            await self._clock.sleep(LOOK)

    async def _look(self, calendar: Calendar, at: float | None = None) -> None:
        """Read one calendar if it is due, for the days around `at` (None: now)."""
        options, kept = self._options, self._kept[calendar.name]
        sight = await asyncio.to_thread(seen, calendar)
        now = self._clock.now()
        start, stop = window(options, now.stamp if at is None else at)
        if not kept.due(now, calendar, sight, stop):
            return
        errand = Errand(
            calendar,
            options.zone,
            now.stamp,
            start,
            stop,
            options.copies,
            options.keep,
            options.stale_after,
            options.limit,
            kept.mark if stop == kept.stop else None,
        )
        async with self._turns:
            answer = await self._ask(errand)
        kept.take(answer, now, sight, stop)

    async def _say(self) -> None:
        """Tell what has changed; at first only when every calendar was read, or had its time."""
        unread = any(kept.read_at is None for kept in self._kept.values())
        if unread and not self._told and self._clock.now().elapsed - self._began < self._options.limit + _FIRST:
            return
        made = await asyncio.to_thread(self._made)  # in a thread, since a large school has tens of thousands of periods
        if not self._told or made != self.timetable:
            self._told, self.timetable = True, made
            self._tell(made)
        troubles = self.troubles
        if troubles != self._troubles:
            self._troubles = troubles
            self._report(troubles)

    def _made(self) -> Timetable:
        options = self._options
        if not options.calendars:
            return Timetable(options.zone, options.week)
        periods = sorted(period for kept in list(self._kept.values()) for period in kept.periods)
        known = min(kept.stop for kept in self._kept.values())
        return Timetable(options.zone, options.week, tuple(periods), known, "; ".join(self.troubles) or None)


def window(options: Options, stamp: float) -> tuple[float, float]:
    """From the midnight before yesterday's day to that after `options.ahead` days: the same all day long."""
    today = datetime.fromtimestamp(stamp, options.zone).date()

    def midnight(days: int) -> float:
        day = today + timedelta(days=days)
        return datetime(day.year, day.month, day.day, tzinfo=options.zone).timestamp()

    return midnight(-1), midnight(options.ahead + 1)
