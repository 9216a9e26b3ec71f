"""How long build surfaces last, from all sheets of the record: a term alone holds too few."""

from collections.abc import Sequence
from typing import NamedTuple

from watchdog.record.rows import JobRow
from watchdog.record.term_rows import SheetRow
from watchdog.review import sheet_life
from watchdog.statistics.survival import Life, Step, kaplan_meier


class Sheets(NamedTuple):
    """Lives in jobs."""

    ended: int
    lasting: int
    """still in use, or taken off for another reason"""
    steps: tuple[Step, ...]
    life: Life | None
    """the number of jobs that half of them outlast; None with fewer than `sheet_life.FEWEST` ended lives"""


def sheets(listed: Sequence[SheetRow], jobs: Sequence[JobRow]) -> Sheets:
    """The survival of sheets."""
    ages = sheet_life.ages(listed, jobs)
    return Sheets(len(ages.ended), len(ages.lasting), kaplan_meier(ages.ended, ages.lasting), sheet_life.estimate(ages))
