"""The controller: its state, its time and its voice. Orders from wire, card and panel are executed by its slots."""

from math import inf

from watchdog.simulator.card import Card
from watchdog.simulator.cardjob import CardJob
from watchdog.simulator.chatter import Chatter
from watchdog.simulator.gcode import read_order
from watchdog.simulator.heater import Heater
from watchdog.simulator.motion import Motion
from watchdog.simulator.planner import Planner
from watchdog.simulator.slots import Slots
from watchdog.simulator.states import Source, State
from watchdog.simulator.trips import finish_halt, kill, trip
from watchdog.simulator.voices import Heats, Voice
from watchdog.simulator.waits import For
from watchdog.simulator.wire import Inlet

BOOT = 1.0
"""s from a reset to the banner; common practice, no source"""
PATIENCE = 90.0
"""s of waiting for a person after which the nozzle's output is held at zero (one build, as read)"""


class Controller:
    """See above. Nothing here reads a clock: `now` is set by the machine."""

    def __init__(
        self,
        voice: Voice,
        nozzle: Heater,
        bed: Heater,
        card: Card,
        *,
        guarded: bool,
        mute_card: bool,
        homing: float,
        probing: float,
    ) -> None:
        self.voice, self.nozzle, self.bed, self.card = voice, nozzle, bed, card
        self.guarded, self.mute_card, self.homing, self.probing = guarded, mute_card, homing, probing
        self.motion = Motion(Planner())
        self.inlet = Inlet(voice)
        self.slots = Slots(self)
        self.chatter = Chatter(self)
        self.job = CardJob(self)
        self.state = State.OFF
        self.now = 0.0
        self._ran = 0.0  # when `run` was last called
        self.said: list[tuple[float, bytes]] = []
        """what was said and when, until the machine takes it"""
        self.frozen = False
        """the main loop hangs: outputs stay as they are"""
        self._forget()

    def _forget(self) -> None:
        """Everything that a reset loses."""
        self.slots.clear()
        self.refusing = False  # stopped by a fault: moves are refused, questions answered
        self.dry_run = False  # heaters stay off, moves go on
        self.fan = 0.0  # 0…1
        self.cause = "power-up"
        self.due_at = inf  # end of booting or of halting
        self.screen = ""
        self.job.forget()
        self.percent: tuple[float, float | None] | None = None
        self.ok_words: str | None = None
        self.source = Source.PANEL
        self.motion.planner.clear()
        self.motion = Motion(self.motion.planner)
        self.inlet.forget()
        self.chatter.reset()
        self.card.close()
        self.nozzle.off()
        self.bed.off()

    # ------------------------------------------------------------ speaking

    def say(self, *lines: str, everywhere: bool = False) -> None:
        """Say lines. What a card order says goes to no port in a build of several ports, unless `everywhere`."""
        if self.mute_card and self.source is Source.CARD and not everywhere:
            return
        for line in lines:
            self.said.append((self.now, line.encode() + self.voice.newline))

    def answer(self, text: str) -> None:
        """Say something that belongs to the acknowledgement where the family has it there."""
        if self.source is Source.WIRE and not self.voice.ok_on_receipt:
            self.ok_words = "ok " + text
        else:
            self.say(text)

    def heats(self) -> Heats:
        """What a temperature report tells now."""
        voice, nozzle, bed = self.voice, self.nozzle, self.bed
        defect = (1 if nozzle.sensor in ("open", "short") else 0) | (2 if bed.sensor in ("open", "short") else 0)
        return Heats(
            {"open": voice.open_sensor, "short": voice.shorted_sensor}.get(nozzle.sensor, nozzle.reading),
            nozzle.target,
            {"open": voice.open_sensor, "short": voice.shorted_sensor}.get(bed.sensor, bed.reading),
            bed.target,
            nozzle.duty,
            bed.duty,
            31.0,
            defect,
            self.voice.cools_paused and self.card.paused,
        )

    # ------------------------------------------------------------ time

    def due(self) -> float:
        """When something happens by itself next; inf when nothing will."""
        moving = self.motion.planner.end
        if self.state is not State.RUNNING:
            return min(self.due_at, moving)
        if self.frozen:
            return moving
        wait = self.slots.wait
        until = wait.until if wait is not None else inf
        card = self.card
        reading = card.gap_over if card.running and card.gap_over > self._ran else inf
        return min(moving, until, reading, self.chatter.due())

    def run(self, now: float) -> None:
        """Do what is due at `now`."""
        self.now = self._ran = now
        planner = self.motion.planner
        while planner.end <= now:
            planner.finish()
        if self.state is State.BOOTING and now >= self.due_at:
            self.due_at = inf
            self.state = State.RUNNING
            self.source = Source.PANEL
            self.say(*self.voice.banner(self.cause))
        elif self.state is State.HALTING and now >= self.due_at:
            self.due_at = inf
            finish_halt(self)
        if self.state is State.RUNNING and not self.frozen:
            if self.chatter.due() <= now:
                self.chatter.run(now)
            self.slots.work()

    def tick(self, now: float) -> None:
        """Set the heaters' power; once every `STEP`."""
        self.now = now
        if self.state is not State.RUNNING:
            self.nozzle.duty = self.bed.duty = 0.0
        elif not self.frozen:
            if (
                self.slots.wait is not None
                and self.slots.wait.what is For.PERSON
                and now - self.chatter.began > PATIENCE
            ):
                self.nozzle.held = True
            if self.voice.cools_paused:
                self.nozzle.held = self.card.paused
            for heater in (self.nozzle, self.bed):
                verdict = heater.regulate(self.voice.full, now, guarded=self.guarded)
                if verdict is not None and self.guarded and not self.dry_run:
                    trip(self, verdict, heater)
                    return

    def run_out(self) -> None:
        """The sensor in the filament's path finds none: said, and the change of filament follows."""
        change = read_order("M600")
        if self.state is State.RUNNING and not self.frozen and change is not None:
            self.say(*self.voice.ran_out(), everywhere=True)
            self.slots.order(change)

    # ------------------------------------------------------------ the wire

    def hear(self, now: float, data: bytes) -> None:
        """Bytes from the wire."""
        self.now = now
        if self.frozen or self.state not in (State.RUNNING, State.LOCKED):
            return
        for line in self.inlet.hear(data):
            if self.state is State.LOCKED:
                self.inlet.waiting.clear()
                self.inlet.bytes_waiting = 0
                if line.strip().upper().startswith(b"M999"):
                    self.state = State.RUNNING
                    self.say("ok")
                else:
                    self.say(*self.voice.refused())
            elif line.startswith(b"M112"):  # these act while they arrive
                kill(self, "M112 Shutdown")
                return
            elif line.startswith(b"M108"):
                self.slots.confirm()
        self.slots.work()

    # ------------------------------------------------------------ resets

    def reset(self, cause: str) -> None:
        """Start afresh; `cause` as in the voices."""
        self._forget()
        self.cause = cause
        self.frozen = False
        self.state = State.BOOTING
        self.due_at = self.now + BOOT

    def switch_off(self) -> None:
        """No supply."""
        self._forget()
        self.frozen = False
        self.state = State.OFF

    def thaw(self) -> None:
        """The main loop goes on after it hung."""
        self.frozen = False
        self.chatter.catch_up(self.now)
        self.slots.work()
