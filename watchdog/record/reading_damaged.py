"""Reading a table out of a damaged file: from the front, from the back, and in between where the rows are numbered."""

import sqlite3
from collections.abc import Iterable
from contextlib import suppress
from typing import Any, Final

_PROBES: Final = 64  # places in the gap at which reading is tried again


def rows_of(damaged: sqlite3.Connection, table: str, fresh: sqlite3.Connection) -> tuple[int, bool]:
    """Copy what can be read of `table` into `fresh`: rows copied, and whether it was the whole table.

    A row that contradicts the schema (a damaged page can give anything) is left out. Errors of `fresh` go to the caller.
    """
    columns = [name for _, name, *_ in fresh.execute(f"PRAGMA table_info({table})").fetchall()]
    key = "rowid" if _is_numbered(fresh, table) else ", ".join(_key(fresh, table))
    backwards = ", ".join(f"{part} DESC" for part in key.split(", "))
    front = f"SELECT {', '.join(columns)} FROM {table} ORDER BY {key}"
    copied, last, whole = _copy(damaged, fresh, table, columns, front)
    if whole:
        return copied, True
    back = f"SELECT {', '.join(columns)} FROM {table} ORDER BY {backwards}"
    more, first, _ = _copy(damaged, fresh, table, columns, back)
    copied += more
    if key == "rowid" and columns[0] in ("id", "one") and last is not None and first is not None:
        step = max(1, (first - last) // _PROBES)
        for start in range(last + 1, first, step):
            piece = f"SELECT {', '.join(columns)} FROM {table} WHERE rowid >= {start} AND rowid < {start + step} ORDER BY rowid"
            more, _, _ = _copy(damaged, fresh, table, columns, piece)
            copied += more
    return copied, False


def _copy(
    damaged: sqlite3.Connection, fresh: sqlite3.Connection, table: str, columns: Iterable[str], select: str
) -> tuple[int, Any, bool]:
    """Rows that are new in `fresh`, the first column of the last row read, and whether the end was reached."""
    columns = tuple(columns)
    insert = f"INSERT OR IGNORE INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"
    copied, last = 0, None
    try:
        found = damaged.execute(select)
    except sqlite3.DatabaseError:
        return 0, None, False
    while True:
        try:
            row = found.fetchone()
        except sqlite3.DatabaseError:
            return copied, last, False
        if row is None:
            return copied, last, True
        if isinstance(row[0], int) or last is None:
            last = row[0]
        with suppress(sqlite3.IntegrityError):  # text where a number must be
            copied += max(0, fresh.execute(insert, row).rowcount)


def _is_numbered(fresh: sqlite3.Connection, table: str) -> bool:
    (text,) = fresh.execute("SELECT sql FROM sqlite_master WHERE name = ?", (table,)).fetchone()
    return "WITHOUT ROWID" not in text


def _key(fresh: sqlite3.Connection, table: str) -> list[str]:
    parts = sorted((place, name) for _, name, _, _, _, place in fresh.execute(f"PRAGMA table_info({table})") if place)
    return [name for _, name in parts]
