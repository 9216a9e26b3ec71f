"""What the figures are worked out from: rows of the record, whether they come from its file or from an export of it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, NamedTuple
from zoneinfo import ZoneInfo

from watchdog.core.dose import Kinetics
from watchdog.core.hours import Week
from watchdog.core.materials import MATERIALS
from watchdog.record.rows import JobRow
from watchdog.record.term_rows import BlindRow, MessageRow, OccurrenceRow, SheetRow


class Plastic(NamedTuple):
    """What heat means to the plastic that a machine is usually loaded with."""

    melts_at: float
    """°C of the nozzle from which it counts as hot"""
    kinetics: Kinetics


def plastic(name: str, melts_at: float | None = None) -> Plastic:
    """A material of `core.materials`, by its name in capitals."""
    made_of = MATERIALS[name]
    kinetics = Kinetics(made_of.activation, made_of.reference, made_of.glass_transition)
    return Plastic(made_of.melts_at if melts_at is None else melts_at, kinetics)


USUAL: Final = plastic("PLA")


@dataclass(frozen=True, slots=True)
class House:
    """What a review knows of the house beside the record."""

    zone: ZoneInfo
    week: Week | None = None
    """supervised hours; None: not known"""
    filament_price: float | None = None
    """of a kg; None: no money is told"""
    sheet_price: float | None = None
    """of a build surface"""
    plastics: Mapping[str, Plastic] = field(default_factory=dict)
    """of each machine that the settings name; the usual one for others"""
    causes: Mapping[str, str] = field(default_factory=dict)
    """causes that a label can name, each with its origin. Another word, which might be a name, is never shown"""

    def plastic(self, machine: str) -> Plastic:
        """What `machine` is usually loaded with."""
        return self.plastics.get(machine, USUAL)


class HotMinute(NamedTuple):
    """A minute in which the nozzle was hot at least once."""

    machine: str
    at: float
    """its beginning"""


class Rows(NamedTuple):
    """One and the same moment of the record. Jobs and sheets are those of its whole time, the rest is the term's."""

    jobs: tuple[JobRow, ...]
    """by their beginning, oldest first"""
    occurrences: tuple[OccurrenceRow, ...]
    """raised in the term"""
    messages: tuple[MessageRow, ...]
    """made in the term"""
    blind: tuple[BlindRow, ...]
    """that touch the term"""
    sheets: tuple[SheetRow, ...]
    hot: tuple[HotMinute, ...]
    """of the machines that appear above or in the settings"""


def last(rows: Rows) -> float:
    """The last moment of which they tell something; 0 where there is nothing."""
    jobs = (job.started if job.ended is None else job.ended for job in rows.jobs)
    return max(
        (*jobs, *(alarm.raised for alarm in rows.occurrences), *(minute.at + 60 for minute in rows.hot)), default=0.0
    )


def machines_of(
    house: House,
    jobs: tuple[JobRow, ...],
    occurrences: tuple[OccurrenceRow, ...],
    blind: tuple[BlindRow, ...],
    sheets: tuple[SheetRow, ...],
) -> tuple[str, ...]:
    """Every machine that the review speaks of, by name."""
    seen = {row.machine for rows in (jobs, occurrences, blind, sheets) for row in rows}
    return tuple(sorted(seen | house.plastics.keys()))
