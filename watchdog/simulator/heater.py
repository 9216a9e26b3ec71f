"""One heater of the machine: its body, what the controller wants of it, and what is broken about it."""

from random import Random

from watchdog.simulator.guards import Bounds, Watchful, look
from watchdog.simulator.heat import STEP, Body, at_rest, blurred, conductance, step
from watchdog.simulator.regulation import Gains, Memory, Switch, regulate

_NO_MEMORY, _NO_GUARD = Memory(), Watchful()


class Heater:
    """Body, regulator and guard together. Broken parts are plain attributes that the faults set."""

    def __init__(self, name: str, body: Body, law: Gains | Switch, bounds: Bounds, *, ambient: float) -> None:
        self.name = name
        self.body = body
        self.law = law
        self.bounds = bounds
        self.warmth = at_rest(body, ambient)
        self.reading = ambient
        """°C as the controller sees it; means nothing while `sensor` is not 'good'"""
        self.target = 0.0
        """°C; 0 = off"""
        self.duty = 0.0
        """0…1, as the controller has set it"""
        self.held = False
        """output kept at zero although the target stays (a long wait for a person)"""
        self.memory = Memory()
        self.guard = Watchful()
        self.sensor = "good"
        """'good', 'open', 'short' or 'loose' (out of its hole: feels the room)"""
        self.contact = 1.0
        """share of the heat above the room's that the sensor feels"""
        self.contact_lost = 0.0
        """of that share, lost a second"""
        self.stuck_on = False
        """the switch conducts whatever the controller sets"""
        self.strength = 1.0
        """share of its watts that the heater still gives"""
        self.draught = 0.0
        """W/K that leave the block besides the usual"""

    def off(self) -> None:
        """Forget everything that the controller wanted."""
        self.target = self.duty = 0.0
        self.held = False
        self.memory, self.guard = Memory(), Watchful()

    def warm(self, *, powered: bool, ambient: float, fan: float, flow: float, random: Random) -> None:
        """Let one `STEP` pass over the body and take the next reading."""
        duty = (1.0 if self.stuck_on else self.duty) if powered else 0.0
        body = self.body
        loss = conductance(body, fan, flow, self.draught)
        self.warmth = step(body, self.warmth, duty * body.watts * self.strength, loss, ambient, STEP)
        if self.sensor == "loose":
            block, _, past = self.warmth
            # A bare bead in air: it loses its heat with a time constant of seconds.
            self.warmth = type(self.warmth)(block, ambient + (self.reading - ambient) * 0.94, past)
        if self.contact_lost:
            self.contact = max(0.3, self.contact - self.contact_lost * STEP)
        felt = self.warmth.sensor
        if self.contact < 1.0:
            felt = ambient + (felt - ambient) * self.contact
        self.reading = blurred(body, felt, random.gauss)

    def regulate(self, full: int, now: float, *, guarded: bool) -> str | None:
        """Set the next duty in steps of 1/`full`; the guard's verdict, if it has one."""
        reading = self.reading
        if self.sensor != "good" and self.sensor != "loose":
            reading = self.bounds.most + 100 if self.sensor == "short" else -15.0
        if self.target <= 0 and self.duty == 0 and reading < self.bounds.most:
            self.memory, self.guard = _NO_MEMORY, _NO_GUARD  # the next target is a new one, also when it is the same
            return None
        verdict = None
        if guarded:
            self.guard, verdict = look(self.bounds, self.guard, 0.0 if self.held else self.target, reading, now)
        self.memory, duty = regulate(self.law, self.memory, 0.0 if self.held else self.target, reading, STEP)
        self.duty = int(duty * full) / full
        return verdict
