"""A review as sections, the same for the terminal and the page."""

from typing import Final, NamedTuple

from watchdog.review.figures import Review
from watchdog.review.sections import alarms, first, jobs, losses, machine
from watchdog.review.sections.shape import Section, day, last_day

ADVISORY: Final = (
    "Emberward is advisory. It is no safety device, fire alarm or interlock; that it told nothing means nothing. Leave no job"
    " running when nobody can check on it."
)

_ALSO: Final = 8
"""offers beyond those of the first page"""


class Report(NamedTuple):
    """Everything that is printed."""

    title: str
    term: str
    sentences: tuple[str, ...]
    """the first page: five of them"""
    change: Section
    """and the three things to change"""
    sections: tuple[Section, ...]


def report(review: Review) -> Report:
    """The words of a review."""
    sections = [
        jobs.section(review),
        losses.section(review),
        machine.heat(review),
        machine.reliability(review),
        machine.durations(review),
        machine.sheets(review),
        alarms.alarms(review),
        alarms.answers(review),
    ]
    if rest := review.changes[first.MOST :]:
        lines = [first.change(one) for one in rest[:_ALSO]]
        if len(rest) > _ALSO:
            lines.append(f"And {len(rest) - _ALSO} more of less weight; `emberward review --json` tells them all.")
        sections.append(Section("more", "Also to be looked at", tuple(lines), ("offers",)))
    term = f"{day(review.since, review.zone)} to {last_day(review.until, review.zone)}"
    return Report("Term review", term, first.five(review), first.section(review), tuple(sections))
