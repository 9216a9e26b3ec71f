"""A damaged record: moved aside, what can be read copied into a new one.

The order of the steps lets a power cut fall between any two of them; the next opening goes on where this one stopped:

    1. an empty file ``<name>.rescue-<UTC stamp>`` says that a rescue is under way
    2. the damaged file and its log become ``<name>.damaged-<UTC stamp>`` and ``…-wal``
    3. the rescue file is filled
    4. the rescue file becomes ``<name>``
"""

import glob
import itertools
import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

from watchdog.record import damaged_file, schema
from watchdog.record.mending import mend
from watchdog.record.opening import Connecting, flush_folder, index_of, log_of
from watchdog.record.reading_damaged import rows_of


class Rescue(NamedTuple):
    """What became of a damaged record."""

    aside: Path
    """where the damaged file lies now"""
    why: str
    """what was found, as SQLite says it"""
    saved: dict[str, int]
    """rows copied, by table"""
    incomplete: tuple[str, ...]
    """tables of which something, or all, could not be read"""


def is_under_way(path: Path) -> bool:
    """An earlier rescue of `path` was cut off."""
    return not path.exists() and _begun(path) is not None


def rescue(path: Path, stamp: float, why: str, connecting: Connecting, scripts: Sequence[str]) -> Rescue:
    """Move the damaged `path` aside, save what can be read, and leave a sound record in its place.

    `OSError` or `sqlite3.Error` when the disk does not let it; called again, it goes on.
    """
    mark = None if path.exists() else _begun(path)
    if mark is None:
        for left in path.parent.glob(
            f"{glob.escape(path.name)}.rescue-*"
        ):  # of a rescue that was cut off before it moved anything
            left.unlink()
        mark = _free_mark(path, stamp)
        os.close(os.open(_new(path, mark), os.O_CREAT | os.O_EXCL | os.O_RDWR | os.O_CLOEXEC, 0o600))
        flush_folder(path.parent)
        path.rename(_aside(path, mark))
    new, aside = _new(path, mark), _aside(path, mark)
    if log_of(path).exists():
        log_of(path).rename(log_of(aside))
    index_of(path).unlink(missing_ok=True)  # SQLite makes it afresh from the log
    flush_folder(path.parent)
    saved, incomplete = _fill(new, aside, connecting, scripts)
    new.rename(path)
    flush_folder(path.parent)
    return Rescue(aside, why, saved, incomplete)


def _new(path: Path, mark: str) -> Path:
    return path.with_name(f"{path.name}.rescue-{mark}")


def _aside(path: Path, mark: str) -> Path:
    return path.with_name(f"{path.name}.damaged-{mark}")


def _begun(path: Path) -> str | None:
    """The mark of a rescue that moved the damaged file aside and did not come to its end."""
    marks = (
        new.name.removeprefix(f"{path.name}.rescue-") for new in path.parent.glob(f"{glob.escape(path.name)}.rescue-*")
    )
    return next((mark for mark in marks if _aside(path, mark).exists()), None)


def _free_mark(path: Path, stamp: float) -> str:
    mark = f"{datetime.fromtimestamp(stamp, UTC):%Y%m%dT%H%M%SZ}"
    marks = (mark + (f"-{nth}" if nth else "") for nth in itertools.count())
    return next(free for free in marks if not _aside(path, free).exists())


def _fill(
    new: Path, aside: Path, connecting: Connecting, scripts: Sequence[str]
) -> tuple[dict[str, int], tuple[str, ...]]:
    versions = _versions(aside, len(scripts))
    found = {version: _fill_as(new, aside, connecting, scripts, version) for version in versions}
    best = max(versions, key=lambda version: sum(found[version][0].values()))  # the latest, of equals
    return found[best] if best == versions[-1] else _fill_as(new, aside, connecting, scripts, best)


def _fill_as(
    new: Path, aside: Path, connecting: Connecting, scripts: Sequence[str], version: int
) -> tuple[dict[str, int], tuple[str, ...]]:
    """Fill `new` with what can be read of `aside` as a file of that schema version."""
    os.truncate(new, 0)
    for rest in (log_of(new), index_of(new), new.with_name(new.name + "-journal")):
        rest.unlink(missing_ok=True)
    saved: dict[str, int] = {}
    incomplete = []
    with closing(sqlite3.connect(new, isolation_level=None, factory=connecting)) as fresh:
        fresh.execute("PRAGMA synchronous = FULL")
        # Rows fit the schema under which they were written; the later scripts then change them as they always do.
        schema.migrate(fresh, 0, scripts[:version])
        with damaged_file.opened(aside, new) as damaged:
            fresh.execute("BEGIN IMMEDIATE")
            for table in _tables(fresh):
                saved[table], whole = rows_of(damaged, table, fresh)
                if not whole:
                    incomplete.append(table)
            mend(fresh, tuple(saved))
            fresh.execute("COMMIT")
        schema.migrate(fresh, version, scripts)
    return saved, tuple(incomplete)


def _versions(aside: Path, present: int) -> list[int]:
    """The schema version that the damaged file claims, if it can be one; else every one, the present one first."""
    with closing(sqlite3.connect(f"{aside.absolute().as_uri()}?mode=ro", uri=True)) as damaged:
        try:
            (version,) = damaged.execute("PRAGMA user_version").fetchone()
        except sqlite3.DatabaseError:
            version = 0
    return [int(version)] if 1 <= version <= present else list(range(present, 0, -1))


def _tables(fresh: sqlite3.Connection) -> Iterator[str]:
    rows = fresh.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'").fetchall()
    yield from (name for (name,) in rows)
