"""The only place that reads a clock.

`elapsed` follows CLOCK_BOOTTIME, which goes on while the computer sleeps: a nozzle that sat hot meanwhile sat hot, and the
sleep itself is told to the core as blind time. `stamp` is the wall clock.
"""

import asyncio
import time

from watchdog.core.moment import Moment


class Clock:
    """Real time, or the same time run faster for a demonstration.

    `rate` is seconds told per real second. `resume_from` carries `elapsed` over a restart: it goes on from the stored
    moment plus the time that the wall clock says has passed since (never less than none).
    """

    def __init__(self, rate: float = 1.0, resume_from: Moment | None = None) -> None:
        self.rate = rate
        self._boot = time.clock_gettime(time.CLOCK_BOOTTIME)
        self._wall = time.time()
        self._asleep = self._boot - time.monotonic()
        self._base = 0.0
        if resume_from is not None:
            self._base = resume_from.elapsed + max(0.0, self._wall - resume_from.stamp)

    def now(self) -> Moment:
        """This moment."""
        passed = time.clock_gettime(time.CLOCK_BOOTTIME) - self._boot
        if self.rate == 1.0:
            return Moment(self._base + passed, time.time())
        return Moment(self._base + passed * self.rate, self._wall + passed * self.rate)

    def slept(self) -> float:
        """s that this computer was suspended since this was last asked."""
        asleep = time.clock_gettime(time.CLOCK_BOOTTIME) - time.monotonic()
        grown, self._asleep = asleep - self._asleep, max(asleep, self._asleep)
        return max(0.0, grown)

    async def sleep(self, seconds: float) -> None:
        """Wait `seconds` of told time."""
        await asyncio.sleep(seconds / self.rate)
