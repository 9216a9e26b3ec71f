"""What a person does at the machine itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.orders.people import LOAD
from watchdog.simulator.states import State
from watchdog.simulator.trips import kill

if TYPE_CHECKING:
    from watchdog.simulator.machine import SimulatedMachine


class Panel:
    """The machine's knob, its card slot, its switch and its cable. Each acts now; a machine that does not run ignores it."""

    def __init__(self, machine: SimulatedMachine) -> None:
        self.machine = machine

    @property
    def _awake(self) -> bool:
        controller = self.machine.controller
        controller.now = self.machine.now
        return controller.state is State.RUNNING and not controller.frozen

    def choose(self, name: str) -> None:
        """Select a file on the card. KeyError when the card holds none of that name."""
        card = self.machine.card
        if card.find(name) is None:
            raise KeyError(name)
        if self._awake and not card.running and card.choose(name):
            controller = self.machine.controller
            controller.say(*controller.voice.chosen_at_panel(card.short().lower(), card.size), everywhere=True)

    def start(self) -> None:
        """Start the chosen file."""
        controller = self.machine.controller
        if self._awake and self.machine.card.open is not None and not self.machine.card.running:
            controller.say(*controller.voice.started_at_panel(), everywhere=True)
            controller.job.start()

    def pause(self) -> None:
        """Hold the job."""
        if self._awake:
            self.machine.controller.job.pause()

    def resume(self) -> None:
        """Go on with a held job."""
        if self._awake and self.machine.card.paused:
            self.machine.controller.job.start()

    def stop(self) -> None:
        """End the job early."""
        controller = self.machine.controller
        if self._awake and self.machine.card.running:
            controller.job.stop()
            controller.say(*controller.voice.stopped(), everywhere=True)

    def preheat(self, nozzle: float, bed: float = 0.0) -> None:
        """Set both targets, °C."""
        if self._awake and not self.machine.controller.dry_run:
            self.machine.nozzle.target, self.machine.bed.target = nozzle, bed

    def cool(self) -> None:
        """Both heaters off."""
        self.preheat(0.0, 0.0)

    def load_filament(self, temperature: float | None = None) -> None:
        """Heat to the material's temperature, feed, and leave it hot, as people do. Not while a job runs."""
        if self._awake and not self.machine.card.running:
            asked = self.machine.options.material if temperature is None else temperature
            self.machine.controller.slots.order(LOAD._replace(words={"S": asked}))

    def confirm(self) -> None:
        """Press the knob: the machine had asked for somebody."""
        if self._awake:
            self.machine.controller.slots.confirm()
            self.machine.controller.slots.work()

    def speed(self, percent: float) -> None:
        """Turn the speed knob; says nothing in most families."""
        if self._awake:
            self.machine.controller.motion.speed_percent = percent

    def kill(self) -> None:
        """Press the emergency stop."""
        if self._awake:
            controller = self.machine.controller
            kill(controller, "KILLED.", *controller.voice.kill_button())

    def unplug(self) -> None:
        """Pull the cable to the host. The machine goes on."""
        self.machine.spoken()
        self.machine.cable = False

    def replug(self) -> None:
        """Plug the cable in again. What was said meanwhile is lost."""
        self.machine.spoken()
        self.machine.cable = True

    def pull_card(self) -> None:
        """Take the card out."""
        card, controller = self.machine.card, self.machine.controller
        awake = self._awake
        if not card.present:
            return
        card.present = False
        if awake:
            if card.running:
                controller.job.stop()
            else:
                card.close()
            controller.say(*controller.voice.card_gone(), everywhere=True)

    def insert_card(self) -> None:
        """Put the card in again."""
        card, controller = self.machine.card, self.machine.controller
        if not card.present:
            card.present = True
            if self._awake:
                controller.say(*controller.voice.card_back(), everywhere=True)

    def switch_off(self) -> None:
        """Off at the wall."""
        self.machine.controller.switch_off()

    def switch_on(self) -> None:
        """On at the wall."""
        self.machine.controller.now = self.machine.now
        if self.machine.controller.state is State.OFF:
            self.machine.controller.reset("power-up")

    def power_cycle(self) -> None:
        """Off and on again at once."""
        self.switch_off()
        self.switch_on()
