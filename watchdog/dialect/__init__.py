"""The RepRap G-code dialect: the text of one line, and what it means.

    line ──▶ damage ──▶ received: link · temperatures · card · job · position · banner · people · faults
                        sent: command, line number, checksum
                        remarks: the recorder about the link

Every reader is total: a value or nothing, never an exception. What is not understood comes back as `Unread`.
"""

from functools import lru_cache

from watchdog.core.observations import Observation
from watchdog.core.traffic import Direction
from watchdog.dialect import received, remarks, sent

_KEPT = 4096  # lines; a machine repeats itself (`ok`, `wait`, steady temperatures), and this many cost about 3 MB
_KEPT_LENGTH = 160  # characters; longer lines do not come again

_received = lru_cache(maxsize=_KEPT)(received.read)
_sent = lru_cache(maxsize=_KEPT)(sent.read)


def read(direction: Direction, text: str) -> tuple[Observation, ...]:
    """What one line of traffic means: none, one or several observations. Total and pure.

    A blank line means nothing. A line that is not understood is one `Unread`.
    """
    if direction == Direction.RECEIVED:
        return _received(text) if len(text) <= _KEPT_LENGTH else received.read(text)
    if direction == Direction.SENT:
        # A numbered line is said once: it would only push useful ones out.
        return _sent(text) if text[:1] != "N" and len(text) <= _KEPT_LENGTH else sent.read(text)
    return remarks.read(text)


__all__ = ["read"]
