"""What happens to the machine, as a teacher would write it down.

    # a lesson
    at 0 s              choose cleat-hook.gcode
    at 5 s              start
    at 40 % of the job  fault stall
    at 1 h 5 min        heal stall
    at 70 min           cool

One event a line: `at`, a time (h, min, s) or a share of the job's bytes, and what happens. `#` begins a comment. A share is
looked at once a second while a job runs; shares are met in the order written. What is due
while the controller still starts happens when it has.
"""

import difflib
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import inf
from types import MappingProxyType

from watchdog.simulator.faults import FAULTS
from watchdog.simulator.machine import SimulatedMachine
from watchdog.simulator.states import State
from watchdog.simulator.streaming import StreamingComputer

Deed = Callable[[SimulatedMachine, str], None]


def _preheat(machine: SimulatedMachine, words: str) -> None:
    heats = [float(word) for word in words.split()]
    machine.panel.preheat(heats[0], *heats[1:2])


def _computer(machine: SimulatedMachine) -> StreamingComputer:
    if machine.computer is None:
        raise ValueError("no computer streams to this machine: leave out 'stream', or give it one")
    return machine.computer


def _hold(machine: SimulatedMachine, held: bool) -> None:
    _computer(machine).held = held


DEEDS: Mapping[str, Deed] = MappingProxyType(
    {
        "choose": lambda machine, words: machine.panel.choose(words),
        "start": lambda machine, words: machine.panel.start(),
        "pause": lambda machine, words: machine.panel.pause(),
        "resume": lambda machine, words: machine.panel.resume(),
        "stop": lambda machine, words: machine.panel.stop(),
        "preheat": _preheat,
        "stream": lambda machine, words: _computer(machine).stream(words),
        "stream-hold": lambda machine, words: _hold(machine, True),
        "stream-on": lambda machine, words: _hold(machine, False),
        "stream-stop": lambda machine, words: _computer(machine).stop(),
        "cool": lambda machine, words: machine.panel.cool(),
        "load": lambda machine, words: machine.panel.load_filament(float(words) if words else None),
        "confirm": lambda machine, words: machine.panel.confirm(),
        "speed": lambda machine, words: machine.panel.speed(float(words)),
        "kill": lambda machine, words: machine.panel.kill(),
        "unplug": lambda machine, words: machine.panel.unplug(),
        "replug": lambda machine, words: machine.panel.replug(),
        "pull-card": lambda machine, words: machine.panel.pull_card(),
        "insert-card": lambda machine, words: machine.panel.insert_card(),
        "switch-off": lambda machine, words: machine.panel.switch_off(),
        "switch-on": lambda machine, words: machine.panel.switch_on(),
        "power-cycle": lambda machine, words: machine.panel.power_cycle(),
        "fault": lambda machine, words: machine.fault(words),
        "heal": lambda machine, words: machine.heal(words or None),
    }
)
"""what can happen, by its word; `stream FILE`: a computer sends it, held, let go on and given up by the three others.
`preheat NOZZLE [BED]`, `load [°C]`, `speed PERCENT`, `fault NAME`, `heal [NAME]`"""

_WHEN = re.compile(r"at\s+((?:\d+(?:\.\d+)?\s*(?:h|min|s)\s+)+|\d+(?:\.\d+)?\s*%(?:\s+of\s+the\s+job)?\s+)(\S.*)\Z")
_PART = re.compile(r"(\d+(?:\.\d+)?)\s*(h|min|s)")
_UNITS = {"h": 3600.0, "min": 60.0, "s": 1.0}


class BadScript(ValueError):
    """Every mistake of a script, each with its line."""


@dataclass(frozen=True, slots=True)
class Event:
    """One line of a script."""

    seconds: float | None
    """when, s from the beginning; None when a share of the job tells it"""
    share: float | None
    """0…1 of the job's bytes"""
    deed: str
    words: str = ""

    def told(self) -> str:
        """In words, for a log line."""
        elsewhere = self.deed in ("fault", "heal") or self.deed.startswith("stream")
        who = self.deed if elsewhere else f"panel: {self.deed}"
        return f"{who} {self.words}".strip()


def read_deed(text: str) -> tuple[str, str]:
    """A deed and its words. BadScript with the nearest name when there is none of that name, or its words do not fit."""
    deed, _, words = text.strip().removeprefix("panel ").strip().partition(" ")
    words = words.strip()
    if deed not in DEEDS:
        raise BadScript(f"nothing is called {deed!r}{_nearest(deed, list(DEEDS))}")
    if deed in ("fault", "heal") and (words or deed == "fault") and words not in FAULTS:
        raise BadScript(f"no fault is called {words!r}{_nearest(words, list(FAULTS))}")
    if deed in ("choose", "stream") and not words:
        raise BadScript(f"{deed} needs the name of a file")
    numbers = {"preheat": (1, 2), "load": (0, 1), "speed": (1, 1)}.get(deed)
    if numbers is not None:
        given = words.split()
        if not numbers[0] <= len(given) <= numbers[1] or not all(re.fullmatch(r"\d+(\.\d+)?", each) for each in given):
            raise BadScript(f"{deed} needs {' to '.join(map(str, sorted(set(numbers))))} numbers")
    elif words and deed not in ("fault", "heal", "choose", "stream"):
        raise BadScript(f"{deed} stands alone")
    return deed, words


def _nearest(name: str, names: list[str]) -> str:
    near = difflib.get_close_matches(name, names, n=1)
    return f"; did you mean {near[0]!r}?" if near else f"; there is {', '.join(sorted(names))}"


def read_script(text: str) -> tuple[Event, ...]:
    """The events of a script in the order written. BadScript tells every mistake at once."""
    events: list[Event] = []
    wrong: list[str] = []
    for number, line in enumerate(text.splitlines(), 1):
        line = line.partition("#")[0].strip()
        if not line:
            continue
        found = _WHEN.match(line)
        if found is None:
            wrong.append(f"line {number}: write 'at 5 s start' or 'at 40 % of the job fault stall', not {line!r}")
            continue
        when, what = found[1].strip(), found[2]
        try:
            deed, words = read_deed(what)
        except BadScript as mistake:
            wrong.append(f"line {number}: {mistake}")
            continue
        if "%" in when:
            events.append(Event(None, float(when.partition("%")[0]) / 100, deed, words))
        else:
            seconds = sum(float(amount) * _UNITS[unit] for amount, unit in _PART.findall(when))
            events.append(Event(seconds, None, deed, words))
    if wrong:
        raise BadScript("\n".join(wrong))
    return tuple(events)


def _seconds(event: Event) -> float:
    return inf if event.seconds is None else event.seconds


class Director:
    """Lets a script happen to a machine. Its times count from the moment it was made."""

    LOOK = 1.0  # s between looks at the share of the job

    def __init__(self, machine: SimulatedMachine, script: str | tuple[Event, ...] = ()) -> None:
        self.machine = machine
        self.origin = machine.now
        self.left = list(read_script(script) if isinstance(script, str) else script)
        self.happened: list[tuple[float, str]] = []
        """s since the origin, and what happened; the reader may empty it"""
        self._looks = 0
        self._plan()

    def _plan(self) -> None:
        """What is next, kept because a long script is looked at every second."""
        self._soonest = min((each for each in self.left if each.seconds is not None), key=_seconds, default=None)
        self._shares = any(event.share is not None for event in self.left)

    def advance(self, to: float) -> None:
        """Let the machine's time pass until `to`, with what the script says on the way. However cut up, the same happens."""
        while self.left:
            shares = self._shares
            look = self.origin + (self._looks + 1) * self.LOOK if shares else inf
            at = min(look, inf if self._soonest is None else self._when(self._soonest))
            if at > to:
                break
            self.machine.advance(at)
            if shares:
                self._looks = int((at - self.origin) / self.LOOK)
            self._happen(at)
        self.machine.advance(to)

    def _when(self, event: Event) -> float:
        """When a timed event is due on the machine's clock; inf for one that waits for a share of the job."""
        if event.seconds is None:
            return inf
        controller = self.machine.controller
        booted = controller.due_at if controller.state is State.BOOTING else 0.0
        return max(self.origin + event.seconds, booted)

    def _happen(self, now: float) -> None:
        share = self.machine.job_share()
        waiting_for_share = False
        for event in tuple(self.left):
            if event.seconds is not None:
                due = self._when(event) <= now
            else:
                due = not waiting_for_share and share is not None and event.share is not None and share >= event.share
                waiting_for_share = waiting_for_share or not due
            if due:
                self.left.remove(event)
                self._plan()
                self.do(event.deed, event.words)

    def do(self, deed: str, words: str = "") -> None:
        """Let one thing happen now. KeyError when a file to choose is not on the card."""
        DEEDS[deed](self.machine, words)
        self.happened.append((self.machine.now - self.origin, Event(None, None, deed, words).told()))
