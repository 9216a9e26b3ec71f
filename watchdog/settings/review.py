"""What people say of jobs and alarms, what is due on a machine, and what of a job is kept by name."""

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, Literal

from pydantic import Field

from watchdog.review.due import USUAL, Item
from watchdog.settings.base import Model
from watchdog.settings.problems import nearest, shown
from watchdog.settings.quantities import Count, Name, Number, Unit

ORIGINS = ("design", "operator", "machine", "material", "supply")
"""where a cause comes from. Supply is what the house provides: mains, network, the computer that streams"""

Origin = Literal["design", "operator", "machine", "material", "supply"]

CAUSES: Mapping[str, Origin] = {
    "feed-tangle": "material",
    "filament-damp": "material",
    "filament-broken": "material",
    "spool-empty": "operator",
    "wrong-settings": "operator",
    "stopped-in-time": "operator",
    "nozzle-jam": "machine",
    "let-go": "machine",
    "surface-worn": "machine",
    "card-fault": "machine",
    "cable": "machine",
    "thin-wall": "design",
    "overhang": "design",
    "power-dip": "supply",
    "computer-stopped": "supply",
}
"""our list: what goes wrong on a shared machine with filament; common practice, no source"""

_HOUSE: Mapping[str, Item] = {item.name: item for item in USUAL}


class ReviewTable(Model):
    """How the incident log is reviewed."""

    causes: dict[Name, Origin] = Field(default_factory=lambda: dict(CAUSES), min_length=1)
    """causes that a label can name, each with where it comes from; takes the place of our list"""
    keep_file_names: bool = False
    """keep the names of job files in the record (they can hold pupils' names); a hash in their place otherwise"""
    sheet_price: Annotated[Number, Unit("a build surface")] | None = Field(default=None, ge=0, le=10_000)
    """what a build surface costs, in your own currency; for the term review, as `filament_price` is"""


class Upkeep(Model):
    """Something of a machine that has to be seen to from time to time. Due by whichever comes first."""

    every_jobs: Annotated[Count, Unit("jobs")] | None = Field(default=None, ge=1, le=1_000_000)
    """jobs that have ended since"""
    every_hours: Annotated[Number, Unit("h")] | None = Field(default=None, gt=0, le=1_000_000)
    """h in which it executed jobs since"""
    every_grams: Annotated[Number, Unit("g")] | None = Field(default=None, gt=0, le=100_000_000)
    """g of filament since"""
    machines: tuple[Name, ...] | None = None
    """machines that it is kept for; every machine when left out, none when empty"""


def items_of(upkeep: Mapping[str, Upkeep], machine: str) -> tuple[Item, ...]:
    """What is kept for `machine`: the usual things as the settings change them, then what they name besides."""
    found = []
    for name in (*_HOUSE, *(name for name in upkeep if name not in _HOUSE)):
        told = upkeep.get(name, Upkeep())
        if told.machines is not None and machine not in told.machines:
            continue
        own = Item(name, told.every_jobs, told.every_hours, told.every_grams)
        found.append(own if own[1:] != (None, None, None) else _HOUSE.get(name, own))
    return tuple(found)


def mistakes(upkeep: Mapping[str, Mapping[str, Any]], machines: Mapping[str, Any]) -> Iterator[tuple[list[str], str]]:
    """(place, fault) of what does not go together, in tables as they were written."""
    for name, told in upkeep.items():
        if name not in _HOUSE and not {"every_jobs", "every_hours", "every_grams"} & told.keys():
            hint = nearest(name, _HOUSE)
            yield (
                ["upkeep", name],
                f"nothing says when it is due. Give every_jobs, every_hours or every_grams. {hint}",
            )
        named = told.get("machines")
        for machine in named if isinstance(named, list) else ():
            if isinstance(machine, str) and machines and machine not in machines:
                fault = f"there is no machine {shown(machine)}. {nearest(machine, machines)}"
                yield ["upkeep", name, "machines"], fault
