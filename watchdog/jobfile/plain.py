"""The plain-Python engine: the model's reference, and the engine where NumPy is missing or a file is small."""

from watchdog.jobfile.engine import Engine, Made
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.plain_reading import plain_moves, walk
from watchdog.jobfile.plain_times import Chain
from watchdog.jobfile.rules import Rules


class PlainEngine(Engine):
    """See `Engine`."""

    def __init__(self, limits: MachineLimits, rules: Rules | None = None, made: list[Made] | None = None) -> None:
        super().__init__(limits, rules, made)
        self.chain = Chain(limits, self.timeline, made)

    def read(self, lines: bytes, at: int) -> None:
        """See `Engine.read`."""
        moves, numbers = plain_moves(lines)
        walk(self, lines, moves, numbers, at)
        self.drain()

    def end(self) -> None:
        """See `Engine.end`."""
        self.drain()
        self.chain.plan(whole=True)
        speeds = self.chain.speeds
        self.too_fast, self.absurd, self.layers = speeds.too_fast, speeds.absurd, speeds.layers

    def drain(self) -> None:
        """See `Engine.drain`."""
        self.judge(self.rows.events, len(self.rows.end))
        self.chain.extend(self.rows)
        self.rows.clear(self.modal.force)
        self.chain.plan(whole=False)
