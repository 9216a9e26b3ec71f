"""`export`: every table of the record as CSV (RFC 4180) and JSON Lines, all from one moment, with a README of the columns."""

import argparse
import json
import os
import shutil
from collections.abc import Iterable
from contextlib import ExitStack
from pathlib import Path
from typing import Any, Final

from watchdog import __version__
from watchdog.cli.columns import COLUMNS, TABLES
from watchdog.cli.common import DONE, FOUND_WRONG, Stop, complain, places_of, say
from watchdog.cli.entering import now
from watchdog.core.traffic import stamp_text
from watchdog.record.faults import RecordUnusable
from watchdog.record.reader import Reader

_HEAD: Final = """\
# Export of an incident log

Made by emberward {version} at {at}, all of it from one moment. Each table is there twice: as `TABLE.csv` and as `TABLE.jsonl`
(one JSON object a line). Text in UTF-8.

- Times are s since 1970-01-01T00:00Z unless it says otherwise; columns that end in `elapsed` are s on the watch's own clock.
- In CSV a text stands in quotes and a number does not; an empty cell without quotes means 'not known' or 'not said', in JSON
  `null`. Missing is never 0.
- A spreadsheet takes a cell that begins with =, +, - or @ for a formula: import every column as text.
- Notes are free words of people, and lines are what the machine said. Look through both before you hand them on.
"""


def run(asked: argparse.Namespace) -> int:
    """Write it. The folder appears whole or not at all."""
    folder: Path = asked.folder
    made = folder.with_name(f".{folder.name}.{os.getpid()}.part")
    try:
        _must_be_free(folder)
        at = stamp_text(now().stamp)
        with Reader.read(places_of(asked).record) as record:
            made.mkdir(mode=0o700, parents=True)
            counts = write(record, made, at)
        if folder.exists():
            folder.rmdir()  # it is empty: rename takes no folder's place on every system
        made.rename(folder)
    except Stop as stop:
        complain(str(stop))
        return stop.status
    except RecordUnusable as unusable:
        complain(str(unusable))
        return FOUND_WRONG
    except OSError as trouble:
        complain(f"{trouble.filename or folder}: {trouble.strerror or trouble}. Name another folder.")
        return FOUND_WRONG
    finally:
        shutil.rmtree(made, ignore_errors=True)
    say(f"{sum(counts.values())} rows of {len(counts)} tables in {folder}; README.md there tells every column")
    return DONE


def _must_be_free(folder: Path) -> None:
    if not folder.name:
        raise Stop(FOUND_WRONG, f"{folder}: name a new folder.")
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise Stop(FOUND_WRONG, f"{folder}: there is something already, and nothing is overwritten. Name a new folder.")


def write(record: Reader, folder: Path, at: str) -> dict[str, int]:
    """Write every table of `record` into `folder`; rows by table. `at`: when, for the README."""
    counts = {}
    with record.one_moment():
        for table in TABLES:
            counts[table] = _table(record.export_rows(table), table, folder)
    readme = folder / "README.md"
    readme.write_text("\n".join(_readme(counts, at)), encoding="utf-8")
    readme.chmod(0o600)
    return counts


def _table(rows: Iterable[dict[str, Any]], table: str, folder: Path) -> int:
    """Both files of one table, never more than one row of it in memory."""
    columns, count = list(COLUMNS[table]), 0
    with ExitStack() as opened:
        csv, lines = (
            opened.enter_context(_private(folder / f"{table}.{ending}").open("w", encoding="utf-8", newline=""))
            for ending in ("csv", "jsonl")
        )
        csv.write(",".join(columns) + "\r\n")
        for row in rows:
            csv.write(",".join(cell(row[column]) for column in columns) + "\r\n")
            lines.write(json.dumps({column: row[column] for column in columns}, ensure_ascii=False) + "\n")
            count += 1
    return count


def _private(file: Path) -> Path:
    """Notes and lines are nobody else's on this computer."""
    file.touch(mode=0o600)
    return file


def cell(value: object) -> str:
    """One cell of CSV. Texts are always quoted, so that '' and nothing can be told apart; numbers keep every digit."""
    if value is None:
        return ""
    return '"' + value.replace('"', '""') + '"' if isinstance(value, str) else repr(value)


def _readme(counts: dict[str, int], at: str) -> Iterable[str]:
    yield _HEAD.format(version=__version__, at=at)
    for table, columns in COLUMNS.items():
        yield f"\n## {table}\n\n{TABLES[table]}; {counts[table]} rows\n\n| column | unit and meaning |\n| --- | --- |"
        yield from (f"| `{column}` | {meaning} |" for column, meaning in columns.items())
    yield ""
