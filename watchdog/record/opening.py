"""Opening the record's file: rights, pragmas, the version check, and whether it is damaged."""

import os
import sqlite3
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from watchdog.record import schema
from watchdog.record.faults import DamagedFile, RecordUnusable, is_damage

CHECKED_UP_TO: Final = 256 * 2**20
"""bytes: a larger file that was closed in good order is not read through at each start; half a GB from a memory card takes
longer than a service has to start"""

PRAGMAS: Final = (
    # Readers (the commands) and the one writer do not wait for each other.
    "PRAGMA journal_mode = WAL",
    # The log is flushed to the disk at each commit, so a power cut loses nothing that was committed, and nobody is told
    # before the commit. NORMAL, faster, may roll back committed transactions at a power cut (SQLite project,
    # documentation of PRAGMA synchronous). There are a few commits an hour, so the price does not matter.
    "PRAGMA synchronous = FULL",
    # An attempt without its parcel or a line without its incident is a defect that should show where it is made.
    "PRAGMA foreign_keys = ON",
    # The log file is cut back to this after it was copied into the main file, so a burst does not keep its disk space.
    "PRAGMA journal_size_limit = 4194304",
)

Connecting = type[sqlite3.Connection]


def connect(
    path: Path, patience: float, connecting: Connecting, scripts: Sequence[str], *, suspect: bool = False
) -> sqlite3.Connection:
    """The record at `path`, checked, migrated and ready to be written; made when it is not there.

    `patience`: s to wait for another program's lock (`busy_timeout`): a reader's checkpoint or a backup takes
    milliseconds, so seconds mean that something is wrong. `suspect`: read all pages through, however large the file is.
    `DamagedFile` when it must be rescued, `RecordUnusable` when
    it is not ours or newer, `sqlite3.Error` or `OSError` when disk, rights or a lock are in the way.
    """
    _make(path)
    version, unsure = _look(path, patience, connecting, scripts)
    connection = _connect(path, "rw", patience, connecting)
    try:
        for pragma in PRAGMAS:
            connection.execute(pragma)
        if version and (suspect or unsure):
            _check(connection)
        schema.migrate(connection, version, scripts)
    except BaseException as error:
        connection.close()
        if isinstance(error, sqlite3.DatabaseError) and is_damage(error):
            raise DamagedFile(str(error)) from error
        raise
    return connection


def connect_reading(path: Path, patience: float) -> sqlite3.Connection:
    """The record at `path` for reading only, also while the service writes it; refused when it is not of this version."""
    try:
        return _connect_reading(path, "ro", patience)
    except sqlite3.OperationalError:
        # The shared index beside the file cannot be made in a folder that this user may not write. Without a log file
        # nobody writes the record now, and it can be read as it lies there.
        if not path.exists() or log_of(path).exists():
            raise
        return _connect_reading(path, "ro&immutable=1", patience)


def _connect_reading(path: Path, mode: str, patience: float) -> sqlite3.Connection:
    connection = _connect(path, mode, patience, sqlite3.Connection)
    try:
        if schema.version_of(connection, path) < len(schema.SCRIPTS):
            raise RecordUnusable(
                path, "the file is of an older version", "Start the watch once; it brings the file up to date."
            )
    except BaseException:
        connection.close()
        raise
    return connection


def log_of(path: Path) -> Path:
    """SQLite's write-ahead log beside `path`."""
    return path.with_name(path.name + "-wal")


def index_of(path: Path) -> Path:
    """SQLite's shared index of that log."""
    return path.with_name(path.name + "-shm")


def _make(path: Path) -> None:
    """An empty file that only its owner may read: messages and file names can tell about people."""
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_RDWR | os.O_CLOEXEC, 0o600))
    except FileExistsError:
        return
    flush_folder(path.parent)


def flush_folder(folder: Path) -> None:
    """Put a new or renamed entry of `folder` on the disk."""
    opened = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(opened)
    finally:
        os.close(opened)


def _look(path: Path, patience: float, connecting: Connecting, scripts: Sequence[str]) -> tuple[int, bool]:
    """The schema version, and whether the pages should be checked. Opened for reading only, so that a newer or a foreign
    file is not changed by as much as a byte."""
    size = path.stat().st_size
    if size == 0:
        return 0, False
    log = log_of(path)
    unclean = log.exists() and log.stat().st_size > 0
    # Without a log nobody writes it now; taken as unchangeable, not even the files that SQLite makes beside it appear.
    connection = _connect(path, "ro" if log.exists() else "ro&immutable=1", patience, connecting)
    try:
        return schema.version_of(connection, path, scripts), unclean or size <= CHECKED_UP_TO
    except sqlite3.DatabaseError as error:
        if is_damage(error):
            raise DamagedFile(str(error)) from error
        raise
    finally:
        connection.close()


def _check(connection: sqlite3.Connection) -> None:
    (found,) = connection.execute("PRAGMA quick_check(1)").fetchone()
    if found != "ok":
        raise DamagedFile(str(found))


def _connect(path: Path, mode: str, patience: float, connecting: Connecting) -> sqlite3.Connection:
    # isolation_level None: transactions are begun and ended by name. check_same_thread off: opened in one thread, used in
    # the executor's; one at a time is the caller's duty.
    return sqlite3.connect(
        f"{path.absolute().as_uri()}?mode={mode}",
        uri=True,
        timeout=patience,
        isolation_level=None,
        check_same_thread=False,
        factory=connecting,
    )
