"""Traffic recordings made at full speed: a plain poller and the machine under simulated time, no port between them."""

import re
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

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


class Recording(NamedTuple):
    """What was recorded, and what was done to the machine meanwhile, which no line tells."""

    lines: list[TrafficLine]
    happened: list[tuple[float, str]]
    """s since the beginning, and what the script let happen"""
    ends: list[float]
    """s since the beginning of each end of a job, early or not; to a second"""


def run(
    script: str | tuple[Event, ...],
    *,
    seed: int = 0,
    duration: float,
    pace: Pace | None = PACE,
    options: Options | None = None,
    reports: bool = False,
    begin: float = EPOCH,
    clock_steps: Sequence[tuple[float, float]] = (),
) -> list[TrafficLine]:
    """The recording of `duration` s of a machine's life with what `script` lets happen.

    The watch's own poller asks, as `pace` says, one question at a time, and looks once a second; with `pace` None it only
    listens. With `reports` it may order the machine's own reports, where the family has them. Without `options` it is a
    machine of family A with the sample jobs on its card. The first line's time is `begin`; the last one says that the watch
    stopped. Each of `clock_steps` is (s since the beginning, s): from then on the stamps are so much later (a clock that is
    set, or local time when summer begins); the machine's life goes on evenly.
    """
    recording = record(script, seed=seed, duration=duration, pace=pace, options=options, reports=reports, begin=begin)
    if not clock_steps:
        return recording.lines

    def stepped(line: TrafficLine) -> TrafficLine:
        by = sum(by for at, by in clock_steps if line.stamp - begin >= at)
        return TrafficLine(line.stamp + by, line.direction, line.text)

    return [stepped(line) for line in recording.lines]


def record(
    script: str | tuple[Event, ...],
    *,
    seed: int = 0,
    duration: float,
    pace: Pace | None = PACE,
    options: Options | None = None,
    reports: bool = False,
    begin: float = EPOCH,
    enough: Callable[[float, Recording], bool] | None = None,
) -> Recording:
    """As `run`, with the ground truth. It ends early when `enough` says so of the time (s) and what there is by then."""
    machine = SimulatedMachine(options or sample_options(), seed)
    director = Director(machine, script)
    poller = _Poller(machine, begin, pace, reports)
    poller.remark(0.0, "link opened")
    recording = Recording(poller.lines, director.happened, [])
    running = False
    for second in range(1, int(duration) + 1):
        director.advance(float(second))
        poller.listen()
        if poller.ask():
            director.advance(second + HARMLESS)
            poller.listen()
        if running and not machine.card.running:
            recording.ends.append(float(second))
        running = machine.card.running
        if enough is not None and enough(float(second), recording):
            duration = float(second)
            break
    director.advance(duration)
    poller.listen()
    poller.remark(duration, "watch stopped")
    return recording


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
