"""Tables of an exported record, read back: one file a table, CSV (RFC 4180) or JSON Lines, columns as in the record.

A CSV cell tells no kind, so the columns that a review reads are named here with theirs. An empty cell is None, but for the
columns of text that are never None.
"""

import csv
import json
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import Any, Final

_NUMBER: Final = "started ended seconds active held heating planned planned_low planned_high filament_mm filament_g"
_KINDS: Final[Mapping[str, Mapping[str, str]]] = {
    "job": {
        "int": "id number size holds sheet sheet_age",
        "float": _NUMBER,
        "str": "machine file origin ending why name_hash digest planned_by material",
    },
    "label": {
        "int": "id subject",
        "str": "kind outcome cause origin remedy note usefulness",
    },
    "alarm": {
        "int": "id incident occurrence",
        "float": "raised acknowledged returned cleared let_go",
        "str": "machine name priority evidence acknowledged_by acknowledged_how",
    },
    "parcel": {
        "int": "id incident occurrence nth loud",
        "float": "at created not_before delivered given_up",
        "str": "machine alarm kind person priority given_up_why",
        "text": "why",
    },
    "attempt": {"int": "parcel"},
    "blind_span": {"int": "id", "float": "since until", "str": "machine cause"},
    "sheet": {"int": "id", "float": "started ended", "str": "machine started_by ended_by why", "text": "note"},
    "telemetry": {"float": "stamp nozzle_high", "str": "machine"},
}
_READS: Final[Mapping[str, Callable[[str], Any]]] = {"int": int, "float": float, "str": str, "text": str}


class NoExport(ValueError):
    """A folder or a file that is no export of a record: place, fault and remedy."""


def table(folder: Path, name: str) -> Iterator[dict[str, Any]]:
    """The rows of one table with the columns that a review reads. JSON Lines are preferred where both are there."""
    for file, read in ((folder / f"{name}.jsonl", _json_lines), (folder / f"{name}.csv", _csv)):
        if file.exists():
            return _checked(file, name, read)
    fault = f"{folder}: no {name}.jsonl or {name}.csv. Name a folder that `emberward export` has written."
    raise NoExport(fault)


def _checked(file: Path, name: str, read: Callable[[Path, str], Iterator[dict[str, Any]]]) -> Iterator[dict[str, Any]]:
    try:
        yield from read(file, name)
    except (OSError, UnicodeDecodeError, csv.Error, ValueError, KeyError, TypeError) as error:
        fault = f"{file}: not a table of an export ({error!r}). Export the record anew."
        raise NoExport(fault) from error


def _json_lines(file: Path, name: str) -> Iterator[dict[str, Any]]:
    columns = [column for told in _KINDS[name].values() for column in told.split()]
    with file.open(encoding="utf-8") as lines:
        for line in lines:
            row = json.loads(line)
            yield {column: row[column] for column in columns}


def _csv(file: Path, name: str) -> Iterator[dict[str, Any]]:
    kinds = {column: kind for kind, told in _KINDS[name].items() for column in told.split()}
    with file.open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            yield {
                column: None if row[column] == "" and kind != "text" else _READS[kind](row[column])
                for column, kind in kinds.items()
            }
