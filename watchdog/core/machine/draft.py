"""The next memory while one event is worked in.

The only thing in this room that changes in place; it never leaves it. Each part in it is immutable and is put in as a
whole, so the memory that it was made from stays as it was.
"""

from watchdog.core.effects import Effect
from watchdog.core.machine.limits import Limits
from watchdog.core.machine.memory import Memory
from watchdog.core.moment import Moment
from watchdog.core.observations import FaultKind
from watchdog.core.snapshot import Job, Origin


class Draft:
    """One memory under work, with what is to be said about it."""

    __slots__ = (
        "at", "axes", "beat", "bed", "bed_trend", "card", "chosen", "effects", "faults", "feed", "heard", "hold", "hot_before",
        "job", "judge", "limits", "marks", "now", "nozzle", "nozzle_trend", "owed", "paid_at", "progress", "resends",
        "restart", "sensor_bad", "sent", "sight", "source", "stream", "ticked_at", "wait", "warming_at",
    )  # fmt: skip

    def __init__(self, limits: Limits, memory: Memory, at: Moment) -> None:
        self.limits = limits
        self.at = at
        self.now = at.elapsed
        self.effects: list[Effect] = []
        self.judge = False
        (
            self.source, self.sight, self.axes, self.beat, self.heard, self.paid_at, self.owed, self.nozzle, self.bed,
            self.nozzle_trend, self.bed_trend, self.warming_at, self.sensor_bad, self.hot_before, self.job, self.progress,
            self.hold, self.wait, self.card, self.chosen, self.stream, self.feed, self.marks, self.faults, self.restart,
            self.resends, self.ticked_at, self.sent,
        ) = memory  # fmt: skip

    def memory(self) -> Memory:
        """The memory as it now stands."""
        return Memory(
            self.source, self.sight, self.axes, self.beat, self.heard, self.paid_at, self.owed, self.nozzle, self.bed,
            self.nozzle_trend, self.bed_trend, self.warming_at, self.sensor_bad, self.hot_before, self.job, self.progress,
            self.hold, self.wait, self.card, self.chosen, self.stream, self.feed, self.marks, self.faults, self.restart,
            self.resends, self.ticked_at, self.sent,
        )  # fmt: skip

    def moved_axes(self, before: Memory) -> bool:
        """Something changed that `execution` is made of."""
        return (
            self.job is not before.job
            or self.sight is not before.sight
            or self.wait is not before.wait
            or self.hold is not before.hold
            or self.axes is not before.axes
            or before.heard is None
        )

    def running(self) -> Job | None:
        """The job that has not ended; None when there is none."""
        return self.job if self.job is not None and self.job.ended is None else None

    def card_job(self) -> Job | None:
        """The card job that has not ended."""
        job = self.running()
        return job if job is not None and job.origin is Origin.CARD else None

    def streamed_job(self) -> Job | None:
        """The streamed job that has not ended."""
        job = self.running()
        return job if job is not None and job.origin is Origin.STREAMED else None

    def filament_trouble(self) -> bool:
        """The machine spoke of missing or jammed filament within the last minute."""
        return any(
            fault.kind in (FaultKind.FILAMENT_OUT, FaultKind.FILAMENT_JAM) and self.now - at < 60
            for at, fault in self.faults
        )
