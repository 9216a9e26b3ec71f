"""What is wrong with the record, in words that name place, fault and remedy."""

import os
import sqlite3
from pathlib import Path


class RecordUnusable(OSError):
    """The record cannot be read or written now. The watch goes on; whoever holds a batch keeps it and tries again."""

    def __init__(self, place: Path, fault: str, remedy: str, *, damaged: bool = False) -> None:
        super().__init__(f"{place}: {fault}. {remedy}")
        self.place = place
        self.fault = fault
        self.remedy = remedy
        self.damaged = damaged
        """the file's content is damaged; the next use moves it aside and saves what can be read"""


class DamagedFile(Exception):
    """The file is no database any more, or its pages contradict each other: it must be rescued."""


_WORDS = {
    sqlite3.SQLITE_FULL: ("the disk is full", "Free some space; writing goes on by itself as soon as there is room."),
    sqlite3.SQLITE_READONLY: (
        "the file or its folder cannot be written",
        "Give the service's user the right to write there, or name another folder.",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "the file cannot be opened",
        "See that its folder exists and that this user may read and write there.",
    ),
    sqlite3.SQLITE_PERM: (
        "access is not allowed",
        "Give this user the right to read and write there, or be another user.",
    ),
    sqlite3.SQLITE_BUSY: ("another program holds it", "End the other program, or wait until it is done."),
    sqlite3.SQLITE_LOCKED: ("another program holds it", "End the other program, or wait until it is done."),
    sqlite3.SQLITE_IOERR: (
        "the disk could not be read or written",
        "Look at the disk or memory card; it may be failing.",
    ),
    sqlite3.SQLITE_CORRUPT: ("the file is damaged", "It is moved aside when it is next opened for writing."),
    sqlite3.SQLITE_NOTADB: (
        "the file is damaged or is no record",
        "It is moved aside when it is next opened for writing.",
    ),
}


def primary_code(error: sqlite3.Error) -> int | None:
    """SQLite's primary result code; None when the error carries none."""
    code: int | None = getattr(error, "sqlite_errorcode", None)
    return None if code is None else code & 0xFF


def is_damage(error: sqlite3.Error) -> bool:
    """The file's content is wrong, as against a disk, a right or a lock that is."""
    return primary_code(error) in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)


def unusable(place: Path, error: sqlite3.Error | OSError) -> RecordUnusable:
    """`error` in words."""
    if isinstance(error, RecordUnusable):
        return error
    if isinstance(error, PermissionError):
        fault, remedy = _WORDS[sqlite3.SQLITE_PERM]
        return RecordUnusable(place, fault, remedy)
    if isinstance(error, OSError):
        return RecordUnusable(place, error.strerror or str(error), f"See to {_named(error, place)}, then try again.")
    code = primary_code(error)
    fault, remedy = _WORDS.get(code if code is not None else -1, (str(error), "Look at the disk; then start again."))
    return RecordUnusable(place, f"{fault} ({error})" if code in _WORDS else fault, remedy, damaged=is_damage(error))


def _named(error: OSError, place: Path) -> str:
    return os.fsdecode(error.filename) if isinstance(error.filename, str | bytes) else str(place)
