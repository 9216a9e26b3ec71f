"""Statements of one transaction, and the shape in which our values go into the file."""

import json
import math
import sqlite3
from collections.abc import Iterable, Iterator
from typing import Any, Final

from watchdog.core.finding import Evidence

Row = tuple[Any, ...]

_LARGEST: Final = 2**63 - 1  # what an INTEGER column holds


def fit(value: Any) -> Any:
    """`value` so that SQLite takes it: what a garbled line says must never keep an alarm out of the record.

    Half characters come as ``\\uNNNN``, numbers beyond 64 bits as the largest there is, nan and inf as None.
    """
    if isinstance(value, str):
        return value.encode("utf-8", "backslashreplace").decode("utf-8")
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, int) and abs(value) > _LARGEST:
        return _LARGEST if value > 0 else -_LARGEST
    return value


def facts_text(facts: Evidence) -> str:
    """`facts` as strict JSON; nan and inf, which JSON cannot say, become null."""
    finite = {
        name: None if isinstance(value, float) and not math.isfinite(value) else value for name, value in facts.items()
    }
    return json.dumps(finite, allow_nan=False, separators=(",", ":"))


def read_facts(text: str) -> Evidence:
    """What `facts_text` wrote; empty when it does not parse (a rescued row)."""
    try:
        read = json.loads(text)
    except ValueError:
        return {}
    return read if isinstance(read, dict) else {}


class Pen:
    """Writes and reads inside one transaction; only `Record` hands one out."""

    def __init__(self, connection: sqlite3.Connection) -> None:
        self._connection = connection

    def run(self, statement: str, *values: Any) -> int:
        """Rows that `statement` changed."""
        return self._connection.execute(statement, [fit(value) for value in values]).rowcount

    def add(self, statement: str, *values: Any) -> int:
        """The id of the row that the INSERT made."""
        made = self._connection.execute(statement, [fit(value) for value in values]).lastrowid
        assert made is not None  # every INSERT tells one
        return made

    def run_each(self, statement: str, rows: Iterable[Iterable[Any]]) -> int:
        """Rows changed in all."""
        return max(0, self._connection.executemany(statement, ([fit(value) for value in row] for row in rows)).rowcount)

    def one(self, statement: str, *values: Any) -> Row | None:
        """The first row, or None."""
        row: Row | None = self._connection.execute(statement, [fit(value) for value in values]).fetchone()
        return row

    def all(self, statement: str, *values: Any) -> list[Row]:
        """Every row."""
        return self._connection.execute(statement, [fit(value) for value in values]).fetchall()

    def each(self, statement: str, *values: Any) -> Iterator[dict[str, Any]]:
        """Every row by column, read as it is asked for."""
        found = self._connection.execute(statement, [fit(value) for value in values])
        names = [column[0] for column in found.description]
        for row in found:
            yield dict(zip(names, row, strict=True))
