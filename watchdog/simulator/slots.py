"""The slots: orders in the order of their arrival, one being executed at a time.

A question from the wire is answered behind whatever stands before it: a heat wait, homing, a change of filament. Moves go
into the planner's queue; a move waits while that is full.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from typing import TYPE_CHECKING

from watchdog.simulator.gcode import Order
from watchdog.simulator.orders import HANDLERS
from watchdog.simulator.states import Pending, Source, State
from watchdog.simulator.waits import For, Wait
from watchdog.simulator.wire import Refusal

if TYPE_CHECKING:
    from watchdog.simulator.controller import Controller

COLD = 170.0
"""°C below which filament is not fed"""
MOVES = frozenset({"G0", "G1"})


class Slots:
    """Executes orders on behalf of its controller."""

    def __init__(self, controller: Controller) -> None:
        self.c = controller
        self.clear()

    def clear(self) -> None:
        """Nothing waits, nothing is being executed."""
        self.queue: deque[Pending] = deque()
        self.doing: tuple[Pending, Iterator[Wait]] | None = None
        self.wait: Wait | None = None
        """what the order being executed waits for"""
        self.heat_done = self.answered = False

    def drop_card_orders(self) -> None:
        """Forget what was read from the card."""
        self.queue = deque(pending for pending in self.queue if pending.source is not Source.CARD)
        if self.doing is not None and self.doing[0].source is Source.CARD:
            self.doing = self.wait = None
            self.c.nozzle.held = False
            self.c.chatter.command_ends()

    def order(self, order: Order) -> None:
        """An order from the panel, ahead of what waits in the slots."""
        if self.c.state is State.RUNNING:
            self.queue.appendleft(Pending(order, Source.PANEL))
            self.work()

    def confirm(self) -> None:
        """Somebody pressed the button, or a heat wait is cut short."""
        self.answered = self.wait is not None and self.wait.what is For.PERSON

    def work(self) -> None:
        """Execute what can be executed now."""
        planner = self.c.motion.planner
        while self.c.state is State.RUNNING and not self.c.frozen:
            self._fill()
            if self.doing is not None:
                if not self._over():
                    break
                self._resume()
            elif not self.queue:
                break
            else:
                head = self.queue[0]
                if head.order.code in MOVES and planner.full:
                    break
                self._execute(self.queue.popleft())
        planner.begin(self.c.now)
        if self.c.card.running:
            self.c.job.see_end()

    def _fill(self) -> None:
        """Free slots take from the wire first, then from the card."""
        queue, slots, voice = self.queue, self.c.voice.slots, self.c.voice
        while self.c.inlet.waiting and len(queue) < slots:
            taken = self.c.inlet.take()
            before, self.c.source = self.c.source, Source.WIRE
            if isinstance(taken, Refusal):
                self.c.say(*taken.replies)
                if voice.repeats_ok:
                    self.c.say("ok")
            else:
                if voice.ok_on_receipt:
                    self.c.say("ok")
                if taken is not None:
                    queue.append(Pending(taken, Source.WIRE))
                elif not voice.ok_on_receipt:
                    self.c.say("ok")
            self.c.source = before
        card = self.c.card
        if card.running and not card.paused:
            while len(queue) < slots and (order := card.read(self.c.now)) is not None:
                queue.append(Pending(order, Source.CARD))

    def _execute(self, pending: Pending) -> None:
        self.c.source = pending.source
        order = pending.order
        if order.code in MOVES:
            self.move(order)
            self._finished(pending)
            return
        handler = HANDLERS.get(order.code)
        if handler is None:
            if order.code[:1] != "T":
                self.c.say(self.c.voice.unknown(order.whole))
            self._finished(pending)
            return
        steps = handler(self.c, order)
        if steps is None:
            self._finished(pending)
        else:
            self.doing = (pending, steps)
            self.c.chatter.command_begins()
            self._resume()

    def move(self, order: Order) -> None:
        """Queue a straight move."""
        if self.c.refusing:
            self.c.say(*self.c.voice.refused())
            return
        feeds = order.words.get("E") is not None
        warm = not feeds or self.c.dry_run or self.c.nozzle.reading >= COLD
        block = self.c.motion.line(order, extrude=warm)
        if not warm:
            self.c.say(*self.c.voice.cold_extrusion())
        if block is not None:
            self.c.motion.planner.add(block)

    def _resume(self) -> None:
        """Let the running command go on to its next wait, or to its end."""
        assert self.doing is not None
        pending, steps = self.doing
        self.c.source = pending.source
        self.heat_done = self.answered = False
        self.wait = next(steps, None)
        if self.wait is None:
            self.doing = None
            self.c.chatter.command_ends()
            self._finished(pending)
        else:
            self.c.chatter.wait_begins(self.wait)

    def _over(self) -> bool:
        wait = self.wait
        if wait is None:
            return True
        if wait.what is For.MOTION:
            self.c.motion.planner.begin(self.c.now)
            return not self.c.motion.planner.queue
        if wait.what is For.HEAT:
            return self.heat_done
        return (wait.what is For.PERSON and self.answered) or self.c.now >= wait.until

    def _finished(self, pending: Pending) -> None:
        if pending.source is Source.WIRE and not self.c.voice.ok_on_receipt:
            self.c.say(self.c.ok_words or "ok")
            self.c.ok_words = None
