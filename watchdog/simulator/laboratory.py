"""Traffic recordings made at full speed: a plain poller and the machine under simulated time, no port between them."""

from functools import lru_cache

from watchdog.core.traffic import Direction, TrafficLine, decode
from watchdog.simulator.jobs import SAMPLES
from watchdog.simulator.machine import Options, SimulatedMachine
from watchdog.simulator.script import Director, Event

EPOCH = 1_772_442_000.0
"""2026-03-02T09:00:00Z, a Monday: where recordings begin unless told otherwise"""
BAUD = 115_200
PATIENCE = 10.0
"""s after which an unanswered question is asked again"""
HARMLESS = 0.04
"""s that the poller leaves between an answer and its next question"""
LOOK = 0.5
"""s between two looks for an answer that is late"""


@lru_cache(maxsize=8)
def sample_options(family: str = "A") -> Options:
    """A machine of `family` with every sample job on its card."""
    return Options(family=family, files=tuple((name, make()) for name, make in SAMPLES.items()))


def run(
    script: str | tuple[Event, ...],
    *,
    seed: int = 0,
    duration: float,
    poll: float | None = 2.0,
    options: Options | None = None,
    auto_report: float | None = None,
    begin: float = EPOCH,
) -> list[TrafficLine]:
    """The recording of `duration` s of a machine's life with what `script` lets happen.

    Every `poll` s the temperatures and then the card's progress are asked for, one question at a time; None only listens.
    `auto_report` (s) arms the machine's own reports instead of asking, where its family has them, after each banner. Without
    `options` it is a machine of family A with the sample jobs on its card. The first line's time is `begin`.
    """
    machine = SimulatedMachine(options or sample_options(), seed)
    director = Director(machine, script)
    poller = _Poller(machine, begin)
    poller.remark(0.0, "link opened")
    period = poll or LOOK
    for nth in range(1, int(duration / period) + 1):
        at = nth * period
        director.advance(at)
        poller.listen()
        if auto_report is not None:
            poller.wishes = [f"M155 S{auto_report:.0f}", f"M27 S{auto_report:.0f}"] if poller.saw_banner() else []
        elif poll is not None:
            poller.wishes = ["M105", "M27"]
        end = min(at + period, duration) - HARMLESS
        while poller.wishes and machine.now < end:
            answered = poller.ask()
            director.advance(min(end, machine.now + (HARMLESS if answered else LOOK)))
            poller.listen()
    director.advance(duration)
    poller.listen()
    return poller.lines


class _Poller:
    """Asks one question at a time, and writes down what passes."""

    def __init__(self, machine: SimulatedMachine, begin: float) -> None:
        self.machine, self.begin = machine, begin
        self.wishes: list[str] = []
        self.lines: list[TrafficLine] = []
        self.partial = b""
        self.first: float | None = None  # when the first byte of the partial line came
        self.free_at = 0.0  # when the wire is free again
        self.asked: float | None = None
        self.cable = True
        self.banner = False

    def remark(self, at: float, text: str) -> None:
        self.lines.append(TrafficLine(self.begin + at, Direction.REMARK, text))

    def saw_banner(self) -> bool:
        """The machine has started afresh since this was last asked."""
        seen, self.banner = self.banner, False
        return seen

    def ask(self) -> bool:
        """Send the next question if none is open, or the open one has been given up; False when it must wait."""
        now = self.machine.now
        if not self.machine.cable or (self.asked is not None and now - self.asked < PATIENCE):
            return False
        question = self.wishes.pop(0)
        self.lines.append(TrafficLine(self.begin + max(now, self.free_at), Direction.SENT, question))
        self.asked = now
        self.machine.receive(question.encode() + b"\n")
        return True

    def listen(self) -> None:
        """Write down what the machine has said; it takes its time on the wire."""
        machine = self.machine
        if machine.cable != self.cable:
            self.cable = machine.cable
            self.remark(max(machine.now, self.free_at), "link opened" if self.cable else "link closed")
            self.asked = None
        for at, piece in machine.spoken():
            begins = max(at, self.free_at)
            self.free_at = begins + len(piece) * 10 / BAUD
            if not self.partial:
                self.first = begins
            whole = self.partial + piece
            *done, self.partial = whole.split(b"\n")
            for line in done:
                text = decode(line.removesuffix(b"\r"))
                self.lines.append(TrafficLine(self.begin + (self.first or begins), Direction.RECEIVED, text))
                if text.startswith("ok"):
                    self.asked = None
                self.banner = self.banner or text == "start"
                self.first = begins
