"""Remarks of the recorder about the link itself.

link opened     link closed: cable pulled     watch started     watch stopped     host resumed after 12.5 s
"""

import re

from watchdog.core.observations import (
    HostResumed,
    LinkDown,
    LinkUp,
    Observation,
    Unread,
    WatchStarted,
    WatchStopped,
)
from watchdog.dialect.damage import bare, is_damaged

_WHOLE: dict[str, Observation] = {
    "link opened": LinkUp(),
    "link closed": LinkDown(),
    "watch started": WatchStarted(),
    "watch stopped": WatchStopped(),
}
_RESUMED = re.compile(r"host resumed after (\d{1,9}(?:\.\d{1,6})?) s", re.ASCII)


def read(text: str) -> tuple[Observation, ...]:
    """What a remark says."""
    line = bare(text)
    known = _WHOLE.get(line)
    if known is not None:
        return (known,)
    if line.startswith("link closed:"):
        return (LinkDown(line[12:].strip()),)
    resumed = _RESUMED.fullmatch(line)
    return (HostResumed(float(resumed[1])) if resumed else Unread(text, is_damaged(text)),)
