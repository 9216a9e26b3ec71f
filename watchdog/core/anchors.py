"""What a habit is held to, so that a fault that grows slowly is not learnt as usual.

While a machine's first jobs come in, its habit may move freely: there is little to go by. After `FREE` jobs it is anchored:
within a term (as many jobs as are kept) it may move by `CAP` of the anchor and no further; then the anchor is set where the
habit stands. So a heater that loses a half of its power in a year is told long before it is usual, and one that is
changed for a stronger one becomes usual within two or three terms, or at once when the machine is made to forget.
"""

from collections.abc import Mapping
from typing import Final, NamedTuple

FREE: Final = 20
"""jobs; project's choice"""
CAP: Final = 0.25
"""share of the anchor by which a habit may move in a term: rooms, nozzles and job files differ by less; project's choice"""


class Anchor(NamedTuple):
    """Where a habit stood."""

    middle: float
    jobs: int
    """that have taught since it was first or last set"""
    first: bool = True
    """it still moves freely"""


def held_to(anchor: Anchor | None, middle: float) -> float:
    """`middle`, as far from the anchor as it may be."""
    if anchor is None or anchor.first:
        return middle
    reach = CAP * abs(anchor.middle)
    return min(max(middle, anchor.middle - reach), anchor.middle + reach)


def moved_on(anchors: Mapping[str, Anchor], middles: Mapping[str, float], term: int) -> dict[str, Anchor]:
    """The anchors after one more job. `middles`: what the jobs kept show; `term`: jobs."""
    return dict(anchors) | {subject: _next(anchors.get(subject), middle, term) for subject, middle in middles.items()}


def _next(anchor: Anchor | None, middle: float, term: int) -> Anchor:
    if anchor is None or anchor.first:
        jobs = 1 if anchor is None else anchor.jobs + 1
        return Anchor(middle, jobs) if jobs < FREE else Anchor(middle, 0, first=False)
    if anchor.jobs + 1 < term:
        return anchor._replace(jobs=anchor.jobs + 1)
    return Anchor(held_to(anchor, middle), 0, first=False)
