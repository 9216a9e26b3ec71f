"""Opening a damaged file for reading, also when its first page is gone."""

import sqlite3
import struct
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

from watchdog.record.opening import CHECKED_UP_TO

_COUNTS: Final = struct.Struct(">IIII")  # at 24: change counter, pages, first free page, free pages
_VALID_FOR: Final = slice(92, 96)  # the change counter for which the number of pages holds


@contextmanager
def opened(aside: Path, sound: Path) -> Iterator[sqlite3.Connection]:
    """The damaged file; its log is read along where it is sound. `sound`: an empty record of the same schema.

    Without its first page SQLite reads nothing of a file. That page holds the header and the top of the table of tables;
    it is much the same in every record, so the one of an empty record is put in its place, in memory. Should it not fit (the
    file had been migrated), the rows found by it contradict the schema, and are left out as any other noise is.
    """
    connection = _connect(f"{aside.absolute().as_uri()}?mode=ro")
    try:
        if not _speaks(connection) and aside.stat().st_size <= CHECKED_UP_TO:
            connection.close()
            connection = _connect(":memory:")
            connection.deserialize(_with_first_page(aside, sound))
        yield connection
    finally:
        connection.close()


def _connect(place: str) -> sqlite3.Connection:
    connection = sqlite3.connect(place, uri=True, isolation_level=None)
    # Nothing is written; it makes SQLite go on where the file is shorter than it says, or a definition does not parse.
    connection.execute("PRAGMA writable_schema = ON")
    connection.text_factory = lambda raw: raw.decode("utf-8", "backslashreplace")
    return connection


def _speaks(connection: sqlite3.Connection) -> bool:
    try:
        (tables,) = connection.execute("SELECT count(*) FROM sqlite_master WHERE type = 'table'").fetchone()
    except sqlite3.DatabaseError:
        return False
    return bool(tables)


def _with_first_page(aside: Path, sound: Path) -> bytes:
    """The content of `aside` behind the first page of `sound`, and that page's counts made right for it."""
    with sound.open("rb") as file:
        header = file.read(100)
        (size,) = struct.unpack_from(">H", header, 16)
        size = size if size > 1 else 65_536  # how the file format writes that size
        page = bytearray(header + file.read(size - 100))
    content = aside.read_bytes()
    _COUNTS.pack_into(page, 24, 1, max(1, len(content) // size), 0, 0)
    page[_VALID_FOR] = struct.pack(">I", 1)
    page[18:20] = b"\x01\x01"  # no write-ahead log: memory has none
    return bytes(page) + content[size : len(content) // size * size]
