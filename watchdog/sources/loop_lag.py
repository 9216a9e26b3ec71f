"""How long something that arrives may have waited before the event loop looked at it.

When the reader stops, some controllers block on sending and leave their heaters uncontrolled. So the wait is measured.
"""

import asyncio

STEP = 0.1
"""s between two looks"""


class LoopLag:
    """Looks at the loop every `STEP` seconds. One for all sources of a process is enough."""

    def __init__(self) -> None:
        self.longest = 0.0
        """s: the longest gap between two looks. No byte that was there waited longer unread; never below `STEP` when run."""

    async def run(self) -> None:
        """Look, for ever."""
        loop = asyncio.get_running_loop()
        before = loop.time()
        while True:
            await asyncio.sleep(STEP)
            now = loop.time()
            self.longest = max(self.longest, now - before)
            before = now

    def take(self) -> float:
        """The longest gap since this was last asked."""
        longest, self.longest = self.longest, 0.0
        return longest
