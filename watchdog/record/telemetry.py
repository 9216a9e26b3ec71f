"""Minute summaries, kept for good: some 60 bytes a minute and machine."""

from collections.abc import Iterable
from typing import Any

from watchdog.record.minutes import Minute, Spread
from watchdog.record.pen import Pen

# Both parts of a minute that was written in two (a restart) are put together; scalar min() and max() give NULL when one
# side is NULL, hence the pairs of coalesce.
_PUT = """
INSERT INTO telemetry (machine, minute, nozzle_low, nozzle_sum, nozzle_high, nozzle_count, nozzle_target,
                       bed_low, bed_sum, bed_high, bed_count, bed_target, progress)
VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
ON CONFLICT (machine, minute) DO UPDATE SET
    nozzle_low = min(coalesce(nozzle_low, excluded.nozzle_low), coalesce(excluded.nozzle_low, nozzle_low)),
    nozzle_sum = coalesce(nozzle_sum, 0) + coalesce(excluded.nozzle_sum, 0),
    nozzle_high = max(coalesce(nozzle_high, excluded.nozzle_high), coalesce(excluded.nozzle_high, nozzle_high)),
    nozzle_count = nozzle_count + excluded.nozzle_count,
    nozzle_target = max(coalesce(nozzle_target, excluded.nozzle_target), coalesce(excluded.nozzle_target, nozzle_target)),
    bed_low = min(coalesce(bed_low, excluded.bed_low), coalesce(excluded.bed_low, bed_low)),
    bed_sum = coalesce(bed_sum, 0) + coalesce(excluded.bed_sum, 0),
    bed_high = max(coalesce(bed_high, excluded.bed_high), coalesce(excluded.bed_high, bed_high)),
    bed_count = bed_count + excluded.bed_count,
    bed_target = max(coalesce(bed_target, excluded.bed_target), coalesce(excluded.bed_target, bed_target)),
    progress = coalesce(excluded.progress, progress)
"""


def keep(pen: Pen, machine: str, minutes: Iterable[Minute]) -> None:
    """Write the summaries of `machine`."""
    rows = [
        [
            minute.number,
            *_columns(minute.nozzle, minute.nozzle_target),
            *_columns(minute.bed, minute.bed_target),
            minute.progress,
        ]
        for minute in minutes
    ]
    if not rows:
        return
    pen.run("INSERT INTO machine (name) VALUES (?) ON CONFLICT (name) DO NOTHING", machine)
    found = pen.one("SELECT id FROM machine WHERE name = ?", machine)
    assert found is not None  # just put there
    pen.run_each(_PUT, ([found[0], *row] for row in rows))


def _columns(spread: Spread | None, target: float | None) -> list[Any]:
    tenths = None if target is None else round(target * 10)
    if spread is None:
        return [None, None, None, 0, tenths]
    return [round(spread.low * 10), round(spread.total * 10), round(spread.high * 10), spread.readings, tenths]
