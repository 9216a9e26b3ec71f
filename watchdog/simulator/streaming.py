"""The computer at the other end of the cable: it sends a job's file line by line, and asks for temperatures in between.

    N2041 G1 X41.250 Y-7.5 E0.03125 F2400*45     one line at a time, the next after its `ok`
    Resend: 2041                                 from there on once more; `rs 2041` means the same

The number counts from `M110 N0` on; the checksum is the XOR of every byte before `*` (RepRap community wiki, page "G-code",
"Checking" and "Replies from the RepRap machine to the host computer").
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from math import inf
from typing import TYPE_CHECKING

from watchdog.simulator.gcode import checksum

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine

LATE_OK = 0.05
"""s after a request to resend in which the `ok` that some families add to it is passed over"""
_AGAIN = re.compile(r"(?:Resend|rs)\s*:?\s*N?\s*:?\s*(\d+)")
_ENDS = ("Printer halted", "!!", "fatal:")
"""words after which a streaming program gives its job up"""


@dataclass(frozen=True, slots=True)
class Streaming:
    """How a streaming program goes about it. Defaults: common practice, no source."""

    asks: float = 2.0
    """s between two questions for temperatures"""
    reacts: float = 0.004
    """s from an `ok` to the next line"""
    numbers_questions: bool = False
    """its questions have numbers and checksums as well"""
    patience: float = 12.0
    """s without a word after which a line counts as taken, its `ok` as lost"""
    watches: bool = False
    """the watch runs on this computer too: after a sleep the recording says so"""


@lru_cache(maxsize=32)
def lines_of(content: bytes) -> tuple[str, ...]:
    """A file as it is sent: no comments, no blank lines."""
    bare = (line.partition(";")[0].strip() for line in content.decode("utf-8", "replace").splitlines())
    return tuple(line for line in bare if line)


class StreamingComputer:
    """Tells what it would send now and when it is due next; the caller carries it over the wire, and back what it hears."""

    def __init__(self, machine: SimulatedMachine, options: Streaming | None = None) -> None:
        self.machine = machine
        self.options = options or Streaming()
        self.asleep_until = 0.0
        """s: until then it does nothing and hears nothing"""
        self.gone = False
        """the program has ended, with or without its job"""
        self.held = False
        """somebody has told the program to wait"""
        self.left: list[str] = []
        """lines of the job that were never sent, the last one first"""
        self.size = 0
        """lines of the job; 0 = none"""
        self._asked = -inf
        self._greet()

    def _greet(self) -> None:
        """Lines count from nothing, as after a connect."""
        self._sent: list[str] = []
        self._at = 0  # place in `_sent` of the line that is due; its length when a new one is
        self._number("M110 N0")
        self._ready_at = self.machine.now
        self._quiet_since = self.machine.now

    # ------------------------------------------------------------ what people do

    def stream(self, name: str) -> None:
        """Begin to send a file. A running job is left alone. KeyError when there is none of that name."""
        content = dict(self.machine.options.files)[name]
        if not self.size and not self.gone:
            lines = lines_of(content)
            self.left, self.size, self.held = list(reversed(lines)), len(lines), False

    def stop(self) -> None:
        """Give the job up: heat off, motors off."""
        if self.size:
            self.left = ["M84", "M140 S0", "M104 S0"]
            self.held = False

    def share(self) -> float | None:
        """Share of the job's lines that were sent, 0…1; None without a job."""
        return 1 - len(self.left) / self.size if self.size else None

    @property
    def asleep(self) -> bool:
        """It sleeps."""
        return self.machine.now < self.asleep_until

    # ------------------------------------------------------------ the wire

    @property
    def waits(self) -> bool:
        """Its last line has not been answered."""
        return self._ready_at == inf

    def due(self) -> float:
        """When it does something next, if it hears nothing before (s on the machine's clock); inf: never."""
        if self.gone:
            return inf
        if self._ready_at == inf:
            at = self._quiet_since + self.options.patience
        elif self._at < len(self._sent) or (self.left and not self.held):
            at = self._ready_at
        else:
            at = max(self._ready_at, self._asked + self.options.asks)
        return max(at, self.asleep_until)

    def write(self) -> str | None:
        """The line that it sends now, without its end; None when it only stops waiting for an `ok`. Call when due."""
        now = self.machine.now
        if self._ready_at == inf:
            self._ready_at = now
            return None
        if self._at < len(self._sent):
            pass
        elif now >= self._asked + self.options.asks:
            self._asked = now
            if not self.options.numbers_questions:
                self._ready_at, self._quiet_since = inf, now
                return "M105"
            self._number("M105")
        elif self.left and not self.held:
            self._number(self.left.pop())
        else:
            return None
        self._at += 1
        self._ready_at, self._quiet_since = inf, now
        return self._sent[self._at - 1]

    def hear(self, at: float, text: str) -> None:
        """A line that ended at `at`."""
        if self.gone or at < self.asleep_until:
            return
        lost = text == "wait" and at - self._quiet_since > 1.0  # an idle receiver owes nothing
        self._quiet_since = at
        if text.startswith("ok") or lost:
            if self._ready_at == inf:
                self._ready_at = at + self.options.reacts
                if self.size and not self.left and self._at == len(self._sent):
                    self.size = 0  # the job is done
        elif (again := _AGAIN.match(text)) is not None:
            number = int(again[1])
            if number < len(self._sent):
                self._at = number
                self._ready_at = at + LATE_OK
        elif text == "start":
            self.left, self.size = [], 0
            self._greet()
        elif any(word in text for word in _ENDS):
            self.left, self.size = [], 0

    def _number(self, line: str) -> None:
        numbered = f"N{len(self._sent)} {line}"
        self._sent.append(f"{numbered}*{checksum(numbered.encode())}")
