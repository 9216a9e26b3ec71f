"""Who is at the other end of the cable while a recording is made: a poller that asks, or a computer that streams.

Both write down what passes, each line with the time of its first byte; the machine takes its time on the wire.
"""

import re

from watchdog.core.traffic import Direction, TrafficLine, decode
from watchdog.dialect import read
from watchdog.dialect.pace import Pace, Polling
from watchdog.dialect.polling import due, heard
from watchdog.simulator.machine import SimulatedMachine
from watchdog.simulator.script import Director
from watchdog.simulator.streaming import StreamingComputer

BAUD = 115_200
HARMLESS = 0.04
"""s until a question's answer is looked for"""
IDLE = re.compile(r"Not SD printing|Not currently playing")


class Ear:
    """Cuts what the machine says into lines and keeps them."""

    def __init__(self, machine: SimulatedMachine, begin: float) -> None:
        self.machine, self.begin = machine, begin
        self.lines: list[TrafficLine] = []
        self.partial = b""
        self.first: float | None = None  # when the first byte of the partial line came
        self.free_at = 0.0  # when the wire is free again
        self.cable = True

    def remark(self, at: float, text: str) -> None:
        """Write down something about the link itself."""
        self.note(max(at, self.free_at), Direction.REMARK, text)

    def note(self, at: float, direction: Direction, text: str) -> None:
        """Write down one line."""
        self.lines.append(TrafficLine(self.begin + at, direction, text))

    def heard(self, at: float, text: str) -> None:
        """A line of the machine that begins at `at`; the wire is free again at `free_at`."""
        self.note(at, Direction.RECEIVED, text)

    def listen(self) -> None:
        """Write down what the machine has said."""
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
                self.heard(self.first or begins, decode(line.removesuffix(b"\r")))
                self.first = begins

    def let(self, director: Director, second: float) -> None:
        """Let time pass until `second`, and do what is to be done at the other end."""
        director.advance(second)
        self.listen()


class Poller(Ear):
    """Asks one question at a time, as the watch does; with `pace` None it only listens."""

    def __init__(self, machine: SimulatedMachine, begin: float, pace: Pace | None, reports: bool) -> None:
        super().__init__(machine, begin)
        self.pace, self.reports = pace, reports
        self.polling = Polling()
        self.idle: bool | None = None

    def let(self, director: Director, second: float) -> None:
        """Whatever is due is asked once a second."""
        super().let(director, second)
        if self._ask():
            director.advance(second + HARMLESS)
            self.listen()

    def _ask(self) -> bool:
        """Send the question that is due, if one is."""
        if self.pace is None or not self.machine.cable:
            return False
        now = self.machine.now
        self.polling, question = due(self.pace, self.polling, now, self.idle if self.reports else None)
        if question is None:
            return False
        self.note(max(now, self.free_at), Direction.SENT, question)
        self.machine.receive(question.encode() + b"\n")
        return True

    def note(self, at: float, direction: Direction, text: str) -> None:
        """What is heard also tells what to ask next."""
        super().note(at, direction, text)
        if self.pace is not None and direction is not Direction.SENT:
            self.polling = heard(self.pace, self.polling, at, read(direction, text))

    def heard(self, at: float, text: str) -> None:
        """Whether the card rests decides what may be asked."""
        super().heard(at, text)
        if self.idle is not True and IDLE.match(text):
            self.idle = True
        elif text.startswith("SD printing byte"):
            self.idle = False


class Carrier(Ear):
    """Carries a streaming computer's lines to the machine, and back what that says. The log is the computer's own: while it
    sleeps nothing is written."""

    def __init__(self, machine: SimulatedMachine, begin: float, computer: StreamingComputer) -> None:
        super().__init__(machine, begin)
        self.computer = computer
        self.slept_from: float | None = None

    def heard(self, at: float, text: str) -> None:
        """The computer hears it too, as soon as its last byte is there."""
        computer = self.computer
        if computer.gone or self.machine.now < computer.asleep_until:
            return
        super().heard(at, text)
        computer.hear(self.free_at, text)

    def let(self, director: Director, second: float) -> None:
        """The next line goes out a moment after the answer to the one before."""
        machine, computer = self.machine, self.computer
        while True:
            at = min(second, computer.due())
            if computer.waits:  # its answer comes with an event of the machine
                at = min(at, machine.next_event())
            director.advance(at)
            self._sleep()
            self.listen()
            if computer.due() <= machine.now:
                line = computer.write()
                if line is not None:
                    self.note(max(machine.now, self.free_at), Direction.SENT, line)
                    machine.receive(line.encode() + b"\n")
                    self.listen()
            elif at >= second:
                return

    def _sleep(self) -> None:
        """Notice a sleep's beginning and its end."""
        computer = self.computer
        if computer.asleep:
            if self.slept_from is None:
                self.slept_from = self.machine.now
        elif self.slept_from is not None:
            self.machine.spoken()  # nobody took what the machine said meanwhile
            if computer.options.watches:
                self.remark(self.machine.now, f"host resumed after {self.machine.now - self.slept_from:.0f} s")
            self.slept_from = None
