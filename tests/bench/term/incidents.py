"""What goes wrong in the term, and on which day. Each incident happens to one machine; what cures it is people's business."""

from collections.abc import Mapping
from datetime import date
from random import Random
from types import MappingProxyType
from typing import NamedTuple

from tests.bench.term import house

AFTER = 600.0
"""s after its cure in which an alarm still belongs to an incident"""


class Kind(NamedTuple):
    """One sort of incident."""

    machine: str
    right: frozenset[str]
    """alarms of which one must be raised; empty: nothing on the wire shows it"""
    follow: frozenset[str]
    """alarms that may be raised besides, until it is cured"""
    fault: str | None
    """the simulator's fault; None: it strikes the part or the timetable, not the machine"""
    cause: str | None
    """what a label says; None where no job is lost"""
    remedy: str | None
    jobs: tuple[str, ...] = ()
    """jobs that it can strike; any when empty"""
    share: tuple[float, float] = (0.3, 0.7)
    """of the job, between which it strikes"""
    often: float = 0.0
    """times in a term of 14 weeks beyond the first; our choice"""


def _names(names: str) -> frozenset[str]:
    return frozenset(names.split())


_LONGER = ("fairlead-pair.gcode", "rudder-pintle.gcode", "block-sheave-plate.gcode", "pattern-letters.gcode")

KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "hot-idle": Kind(house.DOORWAY, _names("hot-idle"), _names(""), "hot-after-load", None, None, often=4),
        "card-glitch": Kind(
            house.DOORWAY, _names("card-fault"), _names("job-stalled"), "card-error", "card-fault",
            "card copied again, started over", _LONGER, (0.41, 0.41),
        ),
        "sheet-worn": Kind(
            house.DOORWAY, _names(""), _names(""), None, "surface-worn", "another sheet, started over", (), (0.08, 0.2),
            often=1,
        ),
        "supply-dip": Kind(
            house.DOORWAY, _names("controller-restarted"), _names(""), "restart", "power-dip", "started over", _LONGER
        ),
        "refused": Kind(house.DOORWAY, _names(""), _names(""), None, None, None, often=1),
        "tangle": Kind(
            house.LOFT, _names("feed-slipping flow-lost"), _names("feed-slipping flow-lost"), "tangle", "feed-tangle",
            "spool taken off, another one loaded", _LONGER, often=1,
        ),
        "jam": Kind(
            house.LOFT, _names("feed-slipping flow-lost"), _names("feed-slipping flow-lost"), "nozzle-jam", "nozzle-jam",
            "nozzle cleared with a cold pull", (house.HULL,),
        ),
        "laptop-restart": Kind(
            house.LOFT, _names("silent-hot job-stalled"), _names("silent-hot job-stalled hot-idle host-suspended"),
            "program-gone", "computer-stopped", "maintenance moved to the night",
            ("pattern-letters.gcode", "block-sheave-plate.gcode"),
        ),
    }
)  # fmt: skip
"""every sort by its name"""


class Planned(NamedTuple):
    """One incident to come."""

    name: str
    day: date


def drawn(weeks: int, machine: str, seed: int) -> tuple[Planned, ...]:
    """The incidents of one machine from Monday to Thursday, spread over the term: at most one a day, refusals aside."""
    random = Random(f"incidents {seed} {machine}")
    names, refusals = [], 0
    for name, kind in KINDS.items():
        if kind.machine == machine:
            times = 1 + round(kind.often * (weeks - 1) / 13)
            names += [name] * times * (name != "refused")
            refusals = times if name == "refused" else refusals
    random.shuffle(names)
    open_days = [day for day in house.days(weeks) if day.weekday() < 4 and day not in house.HOLIDAYS]
    if len(names) > len(open_days):
        raise ValueError(f"{len(names)} incidents do not fit into {len(open_days)} days of {machine}")
    each = len(open_days) / len(names)
    found = []
    for nth, name in enumerate(names):
        first, after = int(nth * each), int((nth + 1) * each)
        found.append(Planned(name, open_days[random.randrange(first, after)]))
    found += [Planned("refused", day) for day in random.sample(open_days[:-1], refusals)]
    return tuple(found)
