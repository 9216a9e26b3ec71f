"""The NumPy engine: the same model as `plain`, for large files. Only the child process imports it."""

import numpy as np

from watchdog.jobfile.engine import Engine, Made
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.rules import Rules
from watchdog.jobfile.vector_reading import Columns, columns_of, read_columns
from watchdog.jobfile.vector_speeds import VectorSpeeds
from watchdog.jobfile.vector_times import VectorChain


class VectorEngine(Engine):
    """See `Engine`."""

    batch = 262_144

    def __init__(self, limits: MachineLimits, rules: Rules | None = None, made: list[Made] | None = None) -> None:
        super().__init__(limits, rules, made)
        self.speeds = VectorSpeeds(limits)
        self.chain = VectorChain(limits, self.timeline, made)
        self.columns: Columns | None = None

    def read(self, lines: bytes, at: int) -> None:
        """See `Engine.read`."""
        self._take(read_columns(self, lines, at))

    def drain(self) -> None:
        """See `Engine.drain`."""
        self._take(columns_of(self.rows))

    def _take(self, columns: Columns) -> None:
        self.columns = columns
        self.judge(columns.events, len(columns.end))
        self.rows.clear(self.modal.force)
        self.chain.extend(self.speeds.ready(columns), whole=False)

    def end(self) -> None:
        """See `Engine.end`."""
        none, nowhere = np.zeros(0), np.zeros(0, np.int64)
        rows = Columns(none, none, none, none, none, nowhere, nowhere, none, [], [(0, self.modal.force)])
        self.chain.extend(self.speeds.ready(rows), whole=True)
        speeds = self.speeds
        self.too_fast, self.absurd, self.layers = speeds.too_fast, speeds.absurd, speeds.layers

    def first_fed(self, first: int, last: int) -> int | None:
        """See `Engine.first_fed`."""
        assert self.columns is not None
        found = np.flatnonzero(self.columns.e[first:last] > 0)
        return int(self.columns.start[first + found[0]]) if len(found) else None

    def first_moved(self, first: int, last: int) -> int | None:
        """See `Engine.first_moved`."""
        assert self.columns is not None
        columns = self.columns
        moved = (columns.x[first:last] != 0) | (columns.y[first:last] != 0) | (columns.z[first:last] != 0)
        found = np.flatnonzero(moved)
        return int(columns.start[first + found[0]]) if len(found) else None
