"""What is due on a machine: counters since something was seen to, held against how often it wants it."""

from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

from watchdog.record.term_rows import UpkeepRow

SOON: Final = 0.9
"""share of an interval from which something counts as due soon; common practice, no source"""
BUILD_SURFACE: Final = "build-surface"
"""the item that another sheet resets"""


class Item(NamedTuple):
    """Something that has to be seen to; due by whichever comes first. None: not counted by that."""

    name: str
    jobs: int | None = None
    hours: float | None = None
    """h in which the machine executed jobs"""
    grams: float | None = None


USUAL: Final = (
    Item(BUILD_SURFACE, jobs=25),
    Item("nozzle-height", jobs=50),
    Item("lubrication", hours=200.0),
    Item("nozzle", hours=500.0),
)
"""Common practice, no source. The machine's manual wins."""


class Due(NamedTuple):
    """How far one item of one machine has come."""

    item: Item
    row: UpkeepRow
    share: float
    """of the interval that is used up, by whichever counts furthest; 1 and more is due"""
    told: str
    """its count in words: '203 of 200 h'"""

    @property
    def due(self) -> bool:
        """Whether it is to be seen to now."""
        return self.share >= 1

    @property
    def soon(self) -> bool:
        """Whether it will be before long."""
        return SOON <= self.share < 1


def judge(item: Item, row: UpkeepRow) -> Due:
    """`row` held against `item`. A job of which time or filament is not known adds nothing, and is said: 'at least'."""
    counts: list[tuple[float, str]] = []
    if item.jobs is not None:
        counts.append((row.jobs / item.jobs, f"{row.jobs} of {item.jobs} jobs"))
    if item.hours is not None:
        hours = row.active / 3600
        counts.append((hours / item.hours, f"{_least(row.jobs_without_time)}{hours:.0f} of {item.hours:g} h"))
    if item.grams is not None:
        grams = f"{_least(row.jobs_without_grams)}{row.grams:.0f} of {item.grams:g} g"
        counts.append((row.grams / item.grams, grams))
    share, count = max(counts, default=(0.0, "not counted"))
    return Due(item, row, share, count)


def in_order(rows: Iterable[Due]) -> Sequence[Due]:
    """Furthest first."""
    return sorted(rows, key=lambda one: (-one.share, one.row.machine, one.item.name))


def named(rows: Iterable[Due]) -> str:
    """What is due, in one line: 'lubrication of doorway-1 (203 of 200 h)'; empty when nothing is."""
    return ", ".join(f"{one.item.name} of {one.row.machine} ({one.told})" for one in in_order(rows) if one.due)


def _least(unknown: int) -> str:
    return "at least " if unknown else ""
