"""How a source speaks: one call a line, and a few fixed remarks about the link itself."""

from collections.abc import Callable

from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction

Hear = Callable[[Moment, Direction, str], None]
"""Takes one line, in time order. Must be quick and must not block: it is called by the code that empties the port."""

LINK_OPENED = "link opened"
LINK_CLOSED = "link closed"
WATCH_STARTED = "watch started"
WATCH_STOPPED = "watch stopped"

_WHY_LONGEST = 200  # characters; an error text may quote anything


def link_closed(why: str) -> str:
    """The remark that the link is gone; `why` goes on one line, empty when there is nothing to say."""
    why = " ".join(why.split())[:_WHY_LONGEST]
    return f"{LINK_CLOSED}: {why}" if why else LINK_CLOSED


def host_resumed(seconds: float) -> str:
    """The remark that this computer slept or hung for `seconds`."""
    return f"host resumed after {round(seconds)} s"
