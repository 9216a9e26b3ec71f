"""The name of a job's file: kept where the settings allow it, and otherwise only told from other names.

File names in a school hold pupils' names. A hash tells equal names and gives none away: it is salted with a number that lies
in this record alone, so that nobody with an export finds a name by trying the likely ones.
"""

import hashlib
import secrets
from typing import Final

from watchdog.record.pen import Pen

_BYTES: Final = 8  # of a hash: equal ones by chance once in some billion names


def hashed(pen: Pen, name: str) -> str:
    """The hash of `name`; small and capital letters count as the same, since a card's short names come in both."""
    row = pen.one("SELECT hex FROM salt")
    if row is None:
        pen.run("INSERT INTO salt (one, hex) VALUES (1, ?)", secrets.token_hex(16))
        row = pen.one("SELECT hex FROM salt")
        assert row is not None  # just put there
    content = name.lower().encode("utf-8", "backslashreplace")
    key = row[0].encode("utf-8")[:64]
    return hashlib.blake2b(content, key=key, digest_size=_BYTES).hexdigest()


def forget(pen: Pen) -> int:
    """Put a hash in the place of every name that is kept; how many jobs that were."""
    rows = pen.all("SELECT id, file FROM job WHERE file IS NOT NULL")
    return pen.run_each(
        "UPDATE job SET file = NULL, name_hash = ? WHERE id = ?", [(hashed(pen, file), job) for job, file in rows]
    )
