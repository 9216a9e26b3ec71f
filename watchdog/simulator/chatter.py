"""What the controller says by itself: busy, heat waits, armed reports, `wait`, card errors. Each has its own beat."""

from __future__ import annotations

from math import inf
from typing import TYPE_CHECKING

from watchdog.simulator.waits import For, Wait

if TYPE_CHECKING:
    from watchdog.simulator.controller import Controller

WINDOW = 1.0
"""°C around the target that count as reached"""


class Chatter:
    """The beats. All times in s on the machine's clock; inf = not armed."""

    def __init__(self, controller: Controller) -> None:
        self.controller = controller
        self.reset()

    def reset(self) -> None:
        """Nothing armed, as after a reset."""
        self.busy_every = 2.0
        self.busy_due = self.heat_due = inf
        self.began = 0.0  # when the present wait began
        self.settled_since: float | None = None
        self.report_every = self.card_every = 0.0
        self.report_due = self.card_due = self.error_due = inf
        self.idle_due = 0.0 if self.controller.voice.says_wait else inf

    def due(self) -> float:
        """The next beat."""
        card = self.controller.card
        if card.failing and card.running and self.error_due == inf:
            self.error_due = self.controller.now
        return min(self.busy_due, self.heat_due, self.report_due, self.card_due, self.error_due, self.idle_due)

    def catch_up(self, now: float) -> None:
        """After the loop hung, what was due meanwhile is due once, now."""
        self.busy_due = max(self.busy_due, now)
        self.heat_due = max(self.heat_due, now)
        self.report_due = max(self.report_due, now)
        self.card_due = max(self.card_due, now)
        self.error_due = max(self.error_due, now)
        self.idle_due = max(self.idle_due, now)

    # ------------------------------------------------------------ arming

    def report(self, every: float) -> None:
        """Temperatures every so many s; 0 ends it."""
        self.report_every = every
        self.report_due = self.controller.now + every if every else inf

    def report_card(self, every: float) -> None:
        """Card progress every so many s; 0 ends it."""
        self.card_every = every
        self.card_due = self.controller.now + every if every else inf

    def command_begins(self) -> None:
        self.busy_due = self.controller.now + self.busy_every if self.busy_every else inf

    def command_ends(self) -> None:
        self.busy_due = self.heat_due = inf

    def wait_begins(self, wait: Wait) -> None:
        now = self.controller.now
        self.began = now
        self.settled_since = None
        self.heat_due = inf
        if wait.what is For.HEAT:
            self._look_at_heat(wait, now)
            self.heat_due = now + 1.0

    # ------------------------------------------------------------ saying

    def run(self, now: float) -> None:
        """Say what is due."""
        c = self.controller
        voice, wait = c.voice, c.slots.wait
        if now >= self.heat_due and wait is not None:
            left = self._look_at_heat(wait, now)
            if not c.slots.heat_done and c.slots.doing is not None:
                c.source = c.slots.doing[0].source
                c.say(voice.heating(c.heats(), wait.heater, left))
            self.heat_due = now + 1.0
        if now >= self.busy_due:
            kind = {For.HEAT: "heating", For.PERSON: "person"}.get(wait.what, "processing") if wait else "processing"
            if kind in voice.busy_words:
                c.say(voice.busy_words[kind], everywhere=True)
            self.busy_due = now + self.busy_every
        if now >= self.report_due:
            c.say(voice.report(c.heats()), everywhere=True)
            self.report_due = now + self.report_every
        if now >= self.card_due:
            c.say(*card_progress(c), everywhere=True)
            self.card_due = now + self.card_every
        if now >= self.error_due:
            self.error_due = now + 1.0 if c.card.failing and c.card.running else inf
            if c.card.failing and c.card.running and not c.card.paused:
                c.say(voice.card_error(), everywhere=True)
        if now >= self.idle_due:
            self.idle_due = now + 1.0
            if not c.slots.queue and c.slots.doing is None:
                c.say("wait", everywhere=True)

    def _look_at_heat(self, wait: Wait, now: float) -> float | None:
        """s of settling left, None when not there yet; tells the controller when the wait is over."""
        c = self.controller
        heater = c.nozzle if wait.heater == "nozzle" else c.bed
        reading, target = heater.reading, heater.target
        high = reading > target + WINDOW
        if target <= 0 or c.dry_run or (high and not wait.cooling_too):
            c.slots.heat_done = True
            return None
        if high or reading < target - WINDOW:
            self.settled_since = None
            return None
        if self.settled_since is None:
            self.settled_since = now
        left = c.voice.settles - (now - self.settled_since)
        c.slots.heat_done = left <= 0
        return max(0.0, left)


def card_progress(c: Controller) -> list[str]:
    """Card progress in the family's words."""
    card = c.card
    return c.voice.progress(
        name=card.short().lower(),
        byte=card.byte(c.now),
        size=card.size,
        running=card.running,
        paused=card.paused,
        mounted=card.present,
        elapsed=c.job.elapsed(),
    )
