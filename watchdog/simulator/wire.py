"""The receiving end of the wire: bytes to lines, numbers and checksums, requests to send again."""

import re
from collections import deque
from typing import NamedTuple

from watchdog.simulator.gcode import Order, checksum, read_order
from watchdog.simulator.voices import Voice

_NUMBERED = re.compile(rb"N(-?\d+)\s*(.*)\Z", re.DOTALL)
_SECOND_N = re.compile(rb"N(-?\d+)")
LONGEST = 95
"""bytes of a line; what is longer is cut"""
HOLDS = 128
"""bytes that wait to be read; more overruns (small boards, from memory)"""


class Refusal(NamedTuple):
    """A line was not taken."""

    replies: list[str]
    flush: bool = True
    """what else waits is thrown away, as it would be out of order"""


class Inlet:
    """Lines as they come in, until the controller has a free slot for them."""

    def __init__(self, voice: Voice) -> None:
        self.voice = voice
        self.last = 0
        """number of the last numbered line that was taken"""
        self.waiting: deque[bytes] = deque()
        self.partial = b""
        self.bytes_waiting = 0
        self.lost = 0
        """bytes overrun so far"""

    def hear(self, data: bytes) -> list[bytes]:
        """Take bytes; the whole lines among them, which also wait in `waiting`."""
        pieces = (self.partial + data).replace(b"\r", b"\n").split(b"\n")
        self.partial = pieces.pop()[-LONGEST:]
        heard = []
        for piece in pieces:
            line = piece[:LONGEST].strip()
            if not line:
                continue
            if self.bytes_waiting + len(line) > HOLDS:
                self.lost += len(line)
                continue
            self.waiting.append(line)
            self.bytes_waiting += len(line)
            heard.append(line)
        return heard

    def take(self) -> Order | Refusal | None:
        """The next waiting line as an order; None for a line that holds nothing."""
        line = self.waiting.popleft()
        self.bytes_waiting -= len(line)
        taken = self._admit(line)
        if isinstance(taken, Refusal) and taken.flush:
            self.waiting.clear()
            self.bytes_waiting = 0
        return taken

    def _admit(self, line: bytes) -> Order | Refusal | None:
        numbered = _NUMBERED.match(line)
        if numbered is None:
            return read_order(line.decode("utf-8", "replace"))
        body, star, given = line.rpartition(b"*")
        if not star:
            return Refusal(self.voice.no_checksum(self.last))
        if not given.strip().isdigit() or int(given) != checksum(body):
            return Refusal(self.voice.wrong_checksum(self.last))
        rest = numbered[2].rpartition(b"*")[0]
        got = int(numbered[1])
        if rest.startswith(b"M110"):
            second = _SECOND_N.search(rest)
            self.last = int(second[1]) if second else got
        elif self.voice.ok_on_receipt and self.last - 40 < got <= self.last:
            return Refusal([f"skip {got}"], flush=False)
        elif got != self.last + 1:
            return Refusal(self.voice.wrong_number(self.last, got))
        else:
            self.last = got
        return read_order(rest.decode("utf-8", "replace"))

    def forget(self) -> None:
        """As after a reset."""
        self.last = 0
        self.waiting.clear()
        self.partial = b""
        self.bytes_waiting = 0
