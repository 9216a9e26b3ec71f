"""The simulated machine: heaters, motion, card and controller under one clock that only the caller moves.

    machine = SimulatedMachine(Options(files=(("cleat-hook.gcode", text),)), seed=7)
    machine.panel.choose("cleat-hook.gcode"); machine.panel.start()
    machine.receive(b"M105\\n"); machine.advance(60.0); machine.take()

No clock, no input or output. The same options, seed and calls give the same bytes, however `advance` is cut up.
"""

from dataclasses import dataclass
from random import Random

from watchdog.simulator import guards, heat, regulation
from watchdog.simulator.card import Card
from watchdog.simulator.controller import Controller
from watchdog.simulator.faults import FAULTS
from watchdog.simulator.filament import Filament
from watchdog.simulator.heat import STEP, Body
from watchdog.simulator.heater import Heater
from watchdog.simulator.panel import Panel
from watchdog.simulator.states import State
from watchdog.simulator.streaming import StreamingComputer
from watchdog.simulator.voices import FAMILIES

FILAMENT_AREA = 2.405282
"""mm² of 1.75 mm filament"""


@dataclass(frozen=True, slots=True)
class Options:
    """What kind of machine it is."""

    family: str = "A"
    """'A', 'A\\'' or 'B'"""
    files: tuple[tuple[str, bytes], ...] = ()
    """name and bytes of each file on the card"""
    ambient: float = 22.0
    """°C"""
    hot_end: Body = heat.HOT_END
    bed: Body = heat.BED
    gains: regulation.Gains = regulation.HOT_END
    """how the nozzle's heater is regulated"""
    bed_switched: bool = False
    """the bed is switched on and off instead of regulated in steps"""
    guards: bool = True
    """the controller protects itself (old builds do not)"""
    action_words: bool | None = None
    """it speaks to the host (`//action:…`); None: as usual in its family"""
    mute_card: bool = False
    """what the job's own orders say goes to no port, as in builds with several ports"""
    homing: float = 24.0
    """s of a G28"""
    probing: float = 40.0
    """s of a G29"""
    material: float = 205.0
    """°C to which the panel's load heats the nozzle"""
    bit_errors: float = 0.0
    """share of the bytes on its cable that arrive with one wrong bit"""
    start_at: float = 0.0
    """s, a whole number of steps: the machine's clock when it is switched on"""


class SimulatedMachine:
    """See above."""

    def __init__(self, options: Options | None = None, seed: int = 0) -> None:
        self.options = options = options or Options()
        self.random = Random(seed)
        law = regulation.Switch() if options.bed_switched else regulation.BED
        self.nozzle = Heater("nozzle", options.hot_end, options.gains, guards.HOT_END, ambient=options.ambient)
        self.bed = Heater("bed", options.bed, law, guards.BED, ambient=options.ambient)
        self.card = Card(dict(options.files))
        self.controller = Controller(
            FAMILIES[options.family](action_words=options.action_words),
            self.nozzle,
            self.bed,
            self.card,
            guarded=options.guards,
            mute_card=options.mute_card,
            homing=options.homing,
            probing=options.probing,
        )
        self.panel = Panel(self)
        self.cable = True
        """the wire is plugged in"""
        self.bit_errors = options.bit_errors
        """share of the bytes on the wire that arrive with one wrong bit"""
        self.byte_loss = 0.0
        """share of the bytes on the wire that do not arrive"""
        self.computer: StreamingComputer | None = None
        """what streams jobs to it; None: nothing does"""
        self.filament = Filament()
        self.replugs_at: float | None = None
        """when a link that went away by itself comes back; None: it is not away, or for good"""
        self.struck: list[str] = []
        """faults that have struck and were not healed since"""
        self.now = options.start_at
        self._steps = 0
        self.controller.now = self.now
        self.controller.reset("power-up")

    # ------------------------------------------------------------ time

    def next_event(self) -> float:
        """When something may be said without being asked, or a move ends; never later than the next heater step."""
        return min(self._step_due(), self.controller.due())

    def advance(self, to: float) -> None:
        """Let time pass until `to` (s on the machine's clock). A time in the past changes nothing."""
        controller = self.controller
        step_due = self._step_due()
        while True:
            at = controller.due()
            if at >= step_due:
                if step_due > to:
                    break
                self.now = step_due
                self._step()
                step_due = self._step_due()
            elif at <= to:
                self.now = max(self.now, at)
                controller.run(self.now)
            else:
                break
        self.now = max(self.now, to)
        controller.now = self.now

    def _step_due(self) -> float:
        return self.options.start_at + (self._steps + 1) * STEP

    def _step(self) -> None:
        self._steps += 1
        controller = self.controller
        powered = controller.state is not State.OFF
        planner = controller.motion.planner
        self.filament.pull(planner.fed_by(self.now), self.now, STEP)
        flow = self.filament.fed(planner.flow(), self.now) * FILAMENT_AREA
        fan = controller.fan if powered else 0.0
        ambient = self.options.ambient
        self.nozzle.warm(powered=powered, ambient=ambient, fan=fan, flow=flow, random=self.random)
        self.bed.warm(powered=powered, ambient=ambient, fan=0.0, flow=0.0, random=self.random)
        controller.tick(self.now)
        if self.replugs_at is not None and self.now >= self.replugs_at:
            self.replugs_at = None
            self.panel.replug()

    # ------------------------------------------------------------ the wire

    def receive(self, data: bytes) -> None:
        """Bytes arrive from the host now."""
        if self.cable:
            self.controller.hear(self.now, self._damaged(data))

    def take(self) -> bytes:
        """What the machine has sent since this was last called."""
        return b"".join(piece for _, piece in self.spoken())

    def spoken(self) -> list[tuple[float, bytes]]:
        """The same line by line, each with its time (s on the machine's clock)."""
        said, self.controller.said = self.controller.said, []
        if not self.cable:
            return []
        return [(at, self._damaged(piece)) for at, piece in said] if self.bit_errors or self.byte_loss else said

    def _damaged(self, data: bytes) -> bytes:
        random = self.random
        if self.byte_loss:
            data = bytes(byte for byte in data if random.random() >= self.byte_loss)
        if not self.bit_errors:
            return data
        return bytes(byte ^ (1 << random.randrange(8)) if random.random() < self.bit_errors else byte for byte in data)

    def opened(self) -> None:
        """The host opened the port and raised the modem lines, on a board that is wired to be reset by that."""
        if self.controller.state is not State.OFF:
            self.controller.now = self.now
            self.controller.reset("external")

    # ------------------------------------------------------------ faults and questions

    def fault(self, name: str) -> None:
        """Let the named fault strike now. KeyError for an unknown name."""
        self.controller.now = self.now
        FAULTS[name].strike(self)
        self.struck.append(name)

    def heal(self, name: str | None = None) -> None:
        """Mend the named fault, or every one that has struck. What the machine has already done about it stays done."""
        self.controller.now = self.now
        for each in tuple(self.struck) if name is None else (name,):
            self.struck = [struck for struck in self.struck if struck != each]
            if (mend := FAULTS[each].heal) is not None:
                mend(self)

    @property
    def at_work(self) -> bool:
        """A job is being read from the card, or sent by a computer."""
        return self.card.running or (self.computer is not None and self.computer.size > 0)

    def job_share(self) -> float | None:
        """Share of the open file's bytes that have been read, or of a stream's lines, 0…1; None without a running job."""
        if self.computer is not None and (share := self.computer.share()) is not None:
            return share
        card = self.card
        return card.byte(self.now) / card.size if card.running and card.size else None
