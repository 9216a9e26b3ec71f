"""How long a build surface lasts, in jobs, from the sheets of the record and what people said.

A sheet's life has ended when it was taken off because it was worn out, or with the first job on it that failed of it by a
person's label, whichever came first. A sheet that is in use, or was taken off for another reason, lasted at least so long.
"""

from collections.abc import Iterable
from typing import Final, NamedTuple

from watchdog.record.rows import JobRow
from watchdog.record.term_rows import Result, SheetRow
from watchdog.statistics.survival import Life, kaplan_meier, median_life

WORN: Final = frozenset({"worn", "torn", "let-go"})
"""reasons that end a life"""
OTHER: Final = frozenset({"other-material", "cleaned", "other"})
"""reasons that say nothing of it"""
BY_SURFACE: Final = "surface-worn"
"""the cause of a failed job that ends the life of its sheet"""
FEWEST: Final = 5
"""ended lives from which an estimate is shown; project's choice: below it the interval covers nearly everything"""


class Ages(NamedTuple):
    """Jobs borne by each sheet."""

    ended: tuple[int, ...]
    lasting: tuple[int, ...]
    """at least so many: still in use, or taken off for another reason"""


def ages(sheets: Iterable[SheetRow], jobs: Iterable[JobRow]) -> Ages:
    """Lives of all sheets that have borne a job."""
    failed: dict[int, int] = {}
    for job in jobs:
        if job.sheet is None or job.sheet_age is None:
            continue
        if job.label.outcome is Result.FAILED and job.label.cause == BY_SURFACE:
            failed[job.sheet] = min(failed.get(job.sheet, job.sheet_age + 1), job.sheet_age + 1)
    ended, lasting = [], []
    for sheet in sheets:
        if sheet.id in failed:
            ended.append(failed[sheet.id])
        elif sheet.jobs and sheet.ended is not None and sheet.why in WORN:
            ended.append(sheet.jobs)
        elif sheet.jobs:
            lasting.append(sheet.jobs)
    return Ages(tuple(ended), tuple(lasting))


def estimate(found: Ages) -> Life | None:
    """Jobs after which half of the sheets are worn out (Kaplan-Meier, 95 %); None with fewer than `FEWEST` ended lives."""
    if len(found.ended) < FEWEST:
        return None
    return median_life(kaplan_meier(found.ended, found.lasting))
