"""What failed jobs cost, by cause and by where the cause comes from: the few that make up most of it first."""

from collections.abc import Callable, Collection, Sequence
from typing import Final, NamedTuple

from watchdog.record.rows import JobRow
from watchdog.record.term_rows import SheetRow
from watchdog.review.parts.common import Part, Sum, failed, part, total
from watchdog.review.rows import House
from watchdog.review.sheet_life import WORN
from watchdog.statistics.pareto import pareto

UNSAID: Final = "not said"
OTHER: Final = "another"
"""a cause or an origin that is in no list: it was written freely, so it is counted and not shown"""
ORIGINS: Final = frozenset({"design", "operator", "machine", "material", "supply"})


class Loss(NamedTuple):
    """One cause, or one origin."""

    name: str
    jobs: Part
    """of all that failed"""
    cumulative: float
    """share of this one and those before it"""
    seconds: Sum
    """from the start to the end of these jobs"""
    grams: Sum
    """of filament that they took"""


class Losses(NamedTuple):
    """Jobs that failed by a person's word."""

    failed: int
    causes: tuple[Loss, ...]
    origins: tuple[Loss, ...]
    seconds: Sum
    grams: Sum
    filament_money: float | None
    """None: no price is set"""
    sheets: int
    """build surfaces that were taken off worn in the term"""
    sheets_money: float | None


def losses(of_term: Sequence[JobRow], sheets: Sequence[SheetRow], since: float, until: float, house: House) -> Losses:
    """What was lost in a term."""
    lost = [job for job in of_term if failed(job)]
    grams = total(job.filament_g for job in lost)
    worn = sum(sheet.ended is not None and since <= sheet.ended < until and sheet.why in WORN for sheet in sheets)
    return Losses(
        failed=len(lost),
        causes=_by(lost, lambda job: _listed(job.label.cause, house.causes.keys())),
        origins=_by(lost, lambda job: origin_of(job, house)),
        seconds=total(job.seconds for job in lost),
        grams=grams,
        filament_money=None if house.filament_price is None else grams.total / 1000 * house.filament_price,
        sheets=worn,
        sheets_money=None if house.sheet_price is None else worn * house.sheet_price,
    )


def origin_of(job: JobRow, house: House) -> str:
    """Where the cause comes from: what was said of this job, else what the list says of its cause."""
    said = job.label.origin
    if said is None and job.label.cause is not None:
        said = house.causes.get(job.label.cause)
    return _listed(said, ORIGINS)


def _listed(word: str | None, known: Collection[str]) -> str:
    if word is None:
        return UNSAID
    return word if word in known else OTHER


def _by(lost: Sequence[JobRow], name: Callable[[JobRow], str]) -> tuple[Loss, ...]:
    groups: dict[str, list[JobRow]] = {}
    for job in lost:
        groups.setdefault(name(job), []).append(job)
    took = {group: total(job.seconds for job in members) for group, members in groups.items()}
    shares = pareto({group: len(members) for group, members in groups.items()})
    # Of those that came as often the one first that took the most time. What they add up to does not change by that.
    ordered = sorted(groups, key=lambda group: (-len(groups[group]), -took[group].total, group))
    return tuple(
        Loss(
            group,
            part(len(groups[group]), len(lost)),
            share.cumulative,
            took[group],
            total(job.filament_g for job in groups[group]),
        )
        for group, share in zip(ordered, shares, strict=True)
    )
