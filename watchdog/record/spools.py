"""Spools: what was on them, what jobs took, and what weighing says. The account is worked out from the rows.

A job that ran while a spool was changed or weighed took its share of the filament before and after by the time: common
practice, no source. What was fed by hand is in no account; weighing puts it right.
"""

import math
from typing import Final

from watchdog.record.pen import Pen
from watchdog.record.sheets import OutOfOrder
from watchdog.record.term_rows import DiameterRow, SpoolRow

_FOREVER: Final = 1e300


class UnknownSpool(LookupError):
    """A spool that is not in the record."""


class UnknownWeight(ValueError):
    """What was weighed cannot be told from the spool itself."""


def load(
    pen: Pen,
    machine: str,
    at: float,
    by: str,
    material: str,
    density: float,
    diameter: float,
    net: float | None,
    empty: float | None,
    note: str,
) -> int:
    """A spool was loaded and the one before taken off; its id."""
    same = pen.one("SELECT id FROM spool WHERE machine = ? AND loaded = ?", machine, at)
    if same is not None:
        return int(same[0])
    later = pen.one("SELECT id FROM spool WHERE machine = ? AND (loaded > ? OR unloaded > ?)", machine, at, at)
    if later is not None:
        raise OutOfOrder(f"{machine}: spool {later[0]} was loaded after that time: give a later one")
    unload(pen, machine, at)
    return pen.add(
        "INSERT INTO spool (machine, material, density, diameter, loaded, loaded_by, net, empty, note)"
        " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
        machine,
        material,
        density,
        diameter,
        at,
        by,
        net,
        empty,
        note,
    )


def unload(pen: Pen, machine: str, at: float) -> int:
    """The loaded spool was taken off; how many that were (0 or 1)."""
    return pen.run(
        "UPDATE spool SET unloaded = ? WHERE machine = ? AND unloaded IS NULL AND loaded < ?", at, machine, at
    )


def weigh(pen: Pen, spool: int, at: float, by: str, weight: float, note: str) -> None:
    """The spool with its filament weighs `weight` g."""
    row = pen.one("SELECT empty FROM spool WHERE id = ?", spool)
    if row is None:
        raise UnknownSpool(f"no spool {spool} in the record")
    if row[0] is None:
        raise UnknownWeight(f"spool {spool}: the weight of the empty spool is not known: say it at loading")
    pen.run(
        "INSERT INTO weighing (spool, at, by_whom, net, note) VALUES (?, ?, ?, ?, ?) ON CONFLICT (spool, at) DO NOTHING",
        spool,
        at,
        by,
        weight - row[0],
        note,
    )


def measure(pen: Pen, machine: str, at: float, by: str, mm: float, spool: int | None, note: str) -> None:
    """Filament was measured: of `spool`, or of the one that is loaded."""
    if spool is None:
        row = pen.one("SELECT id FROM spool WHERE machine = ? AND unloaded IS NULL ORDER BY id DESC LIMIT 1", machine)
        spool = None if row is None else row[0]
    elif pen.one("SELECT 1 FROM spool WHERE id = ?", spool) is None:
        raise UnknownSpool(f"no spool {spool} in the record")
    pen.run(
        "INSERT INTO diameter (machine, spool, mm, at, by_whom, note) VALUES (?, ?, ?, ?, ?, ?)",
        machine,
        spool,
        mm,
        at,
        by,
        note,
    )


def listed(pen: Pen, machine: str | None, loaded_only: bool) -> tuple[SpoolRow, ...]:
    """Spools with their accounts, oldest first."""
    rows = pen.all(
        "SELECT id, machine, material, density, coalesce((SELECT mm FROM diameter WHERE spool = spool.id ORDER BY at DESC, id"
        " DESC LIMIT 1), diameter), loaded, loaded_by, unloaded, net, empty, note FROM spool"
        " WHERE (? IS NULL OR machine = ?) AND (NOT ? OR unloaded IS NULL) ORDER BY loaded, id",
        machine,
        machine,
        int(loaded_only),
    )
    return tuple(_with_account(pen, *row) for row in rows)


def _with_account(
    pen: Pen,
    spool: int,
    machine: str,
    material: str,
    density: float,
    diameter: float,
    loaded: float,
    by: str,
    unloaded: float | None,
    net: float | None,
    empty: float | None,
    note: str,
) -> SpoolRow:
    weighed = pen.one("SELECT at, net FROM weighing WHERE spool = ? ORDER BY at DESC, id DESC LIMIT 1", spool)
    since, known = (loaded, net) if weighed is None else weighed
    until = _FOREVER if unloaded is None else unloaded
    taken = pen.one(
        "SELECT coalesce(sum(filament_mm * CASE WHEN ended > started THEN (min(ended, ?) - max(started, ?)) / (ended - started)"
        " ELSE 1 END), 0.0), coalesce(sum(filament_mm IS NULL), 0)"
        " FROM job WHERE machine = ? AND ended > ? AND started < ? AND (ended <= started OR min(ended, ?) > max(started, ?))",
        until,
        since,
        machine,
        since,
        until,
        until,
        since,
    )
    assert taken is not None  # a sum has a row
    used, without = taken
    per_mm = math.pi / 4 * diameter**2 * density / 1_000  # g/mm: mm² · g/cm³ / 1,000
    left = None if known is None else known / per_mm - used
    return SpoolRow(
        spool, machine, material, density, diameter, loaded, by, unloaded, net, empty,
        None if weighed is None else since, used, left, None if left is None else left * per_mm, without, note,
    )  # fmt: skip


def diameters(pen: Pen, machine: str | None) -> tuple[DiameterRow, ...]:
    """Measured filament, oldest first."""
    rows = pen.all(
        "SELECT machine, spool, mm, at, by_whom, note FROM diameter WHERE ? IS NULL OR machine = ? ORDER BY at, id",
        machine,
        machine,
    )
    return tuple(DiameterRow(*row) for row in rows)
