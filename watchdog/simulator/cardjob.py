"""The job that runs from the card: start, pause, stop, end, and its timer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.gcode import Order
from watchdog.simulator.states import Pending, Source

if TYPE_CHECKING:
    from watchdog.simulator.controller import Controller


class CardJob:
    """Acts on its controller's card, slots and queue of moves."""

    def __init__(self, controller: Controller) -> None:
        self.controller = controller
        self.forget()

    def forget(self) -> None:
        """No job."""
        self.began: float | None = None
        self.stood = 0.0  # s that it was paused
        self.stood_since: float | None = None

    def start(self) -> None:
        """Start, or go on with, the open file."""
        c, card = self.controller, self.controller.card
        if card.open is None or card.start_ignored or not card.present:
            return
        if card.running and card.paused:
            card.paused = False
            if self.stood_since is not None:
                self.stood += c.now - self.stood_since
                self.stood_since = None
            c.say(*c.voice.resumed(), everywhere=True)
            if c.voice.cools_paused and c.nozzle.target:
                target = c.nozzle.target
                c.slots.queue.appendleft(Pending(Order("M109", {"S": target}, "", "M109"), Source.PANEL))
        elif not card.running:
            card.running = True
            self.began, self.stood, self.stood_since = c.now, 0.0, None
        c.slots.work()

    def pause(self) -> None:
        """Stop reading; what has been read is still executed."""
        c, card = self.controller, self.controller.card
        if card.running and not card.paused:
            card.paused = True
            self.stood_since = c.now
            c.say(*c.voice.paused(), everywhere=True)

    def stop(self) -> None:
        """End the job early: moves dropped, heaters and fan off."""
        self.drop()
        self.controller.nozzle.off()
        self.controller.bed.off()
        self.controller.fan = 0.0

    def drop(self) -> None:
        """Close the file, and forget what was read from it."""
        c = self.controller
        c.card.close()
        c.slots.drop_card_orders()
        c.motion.planner.clear()
        self.forget()

    def elapsed(self) -> float:
        """s on the job timer, pauses left out."""
        if self.began is None:
            return 0.0
        now = self.controller.now
        standing = 0.0 if self.stood_since is None else now - self.stood_since
        return now - self.began - self.stood - standing

    def see_end(self) -> None:
        """Say that the file is done: at its last byte, or with the last move."""
        c, card = self.controller, self.controller.card
        if card.paused or not card.at_end(c.now):
            return
        busy = bool(c.motion.planner.queue or c.slots.queue) or c.slots.doing is not None
        if c.voice.done_at_reading or not busy:
            c.say(*c.voice.done(self.elapsed()), everywhere=True)
            self.forget()
            card.close()
