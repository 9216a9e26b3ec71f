"""Traffic recordings made at full speed: a plain poller and the machine under simulated time, no port between them."""

import re
from functools import lru_cache

from watchdog.core.traffic import Direction, TrafficLine, decode
from watchdog.dialect import read
from watchdog.dialect.pace import Pace, Polling
from watchdog.dialect.polling import due, heard
from watchdog.simulator.jobs import SAMPLES
from watchdog.simulator.machine import Options, SimulatedMachine
from watchdog.simulator.script import Director, Event

EPOCH = 1_772_442_000.0
"""2026-03-02T09:00:00Z, a Monday: where recordings begin unless told otherwise"""
BAUD = 115_200
HARMLESS = 0.04
"""s until a question's answer is looked for"""
IDLE = re.compile(r"Not SD printing|Not currently playing")


PACE = Pace()


@lru_cache(maxsize=8)
def sample_options(family: str = "A") -> Options:
    """A machine of `family` with every sample job on its card."""
    return Options(family=family, files=tuple((name, make()) for name, make in SAMPLES.items()))


def run(
    script: str | tuple[Event, ...],
    *,
    seed: int = 0,
    duration: float,
    pace: Pace | None = PACE,
    options: Options | None = None,
    reports: bool = False,
    begin: float = EPOCH,
) -> list[TrafficLine]:
    """The recording of `duration` s of a machine's life with what `script` lets happen.

    The watch's own poller asks, as `pace` says, one question at a time, and looks once a second; with `pace` None it only
    listens. With `reports` it may order the machine's own reports, where the family has them. Without `options` it is a
    machine of family A with the sample jobs on its card. The first line's time is `begin`; the last one says that the watch
    stopped.
    """
    machine = SimulatedMachine(options or sample_options(), seed)
    director = Director(machine, script)
    poller = _Poller(machine, begin, pace, reports)
    poller.remark(0.0, "link opened")
    for second in range(1, int(duration) + 1):
        director.advance(float(second))
        poller.listen()
        if poller.ask():
            director.advance(second + HARMLESS)
            poller.listen()
    director.advance(duration)
    poller.listen()
    poller.remark(duration, "watch stopped")
    return poller.lines


class _Poller:
    """Asks one question at a time, and writes down what passes."""

    def __init__(self, machine: SimulatedMachine, begin: float, pace: Pace | None, reports: bool) -> None:
        self.machine, self.begin, self.pace, self.reports = machine, begin, pace, reports
        self.polling = Polling()
        self.idle: bool | None = None
        self.lines: list[TrafficLine] = []
        self.partial = b""
        self.first: float | None = None  # when the first byte of the partial line came
        self.free_at = 0.0  # when the wire is free again
        self.cable = True

    def remark(self, at: float, text: str) -> None:
        """Write down something about the link itself."""
        self._note(max(at, self.free_at), Direction.REMARK, text)

    def ask(self) -> bool:
        """Send the question that is due, if one is."""
        if self.pace is None or not self.machine.cable:
            return False
        now = self.machine.now
        self.polling, question = due(self.pace, self.polling, now, self.idle if self.reports else None)
        if question is None:
            return False
        self._note(max(now, self.free_at), Direction.SENT, question)
        self.machine.receive(question.encode() + b"\n")
        return True

    def _note(self, at: float, direction: Direction, text: str) -> None:
        self.lines.append(TrafficLine(self.begin + at, direction, text))
        if self.pace is not None and direction is not Direction.SENT:
            self.polling = heard(self.pace, self.polling, at, read(direction, text))

    def listen(self) -> None:
        """Write down what the machine has said; it takes its time on the wire."""
        machine = self.machine
        if machine.cable != self.cable:
            self.cable = machine.cable
            self.remark(machine.now, "link opened" if self.cable else "link closed")
        for at, piece in machine.spoken():
            begins = max(at, self.free_at)
            self.free_at = begins + len(piece) * 10 / BAUD
            if not self.partial:
                self.first = begins
            whole = self.partial + piece
            *done, self.partial = whole.split(b"\n")
            for line in done:
                text = decode(line.removesuffix(b"\r"))
                self._note(self.first or begins, Direction.RECEIVED, text)
                if self.idle is not True and IDLE.match(text):
                    self.idle = True
                elif text.startswith("SD printing byte"):
                    self.idle = False
                self.first = begins
