"""Whole tables, row by row, from which every figure can be worked out anew. Nothing here is for the machine's own memory."""

from collections.abc import Iterator
from typing import Any, Final

from watchdog.record.pen import Pen
from watchdog.record.sheets import AGE_OF_JOB, OF_JOB

_TENTHS: Final = (
    "nozzle_low",
    "nozzle_sum",
    "nozzle_high",
    "nozzle_target",
    "bed_low",
    "bed_sum",
    "bed_high",
    "bed_target",
)

_JOBS: Final = (
    f"SELECT job.*, {OF_JOB} AS sheet, CASE WHEN {OF_JOB} IS NULL THEN NULL ELSE {AGE_OF_JOB} END AS sheet_age FROM job"
)
_MINUTES: Final = (
    "SELECT machine.name AS machine, minute * 60 AS stamp, "
    + ", ".join(f"{column} / 10.0 AS {column}" for column in _TENTHS)
    + ", nozzle_count, bed_count, progress FROM telemetry JOIN machine ON machine.id = telemetry.machine"
)
_PLAIN: Final = (
    "incident",
    "alarm",
    "transition",
    "state_change",
    "job_change",
    "noted",
    "parcel",
    "attempt",
    "raw_line",
    "reading",
    "blind_span",
    "label",
    "upkeep",
    "sheet",
    "spool",
    "weighing",
    "diameter",
)
TABLES: Final = {"job": _JOBS, "telemetry": _MINUTES, **{table: f"SELECT * FROM {table}" for table in _PLAIN}}
"""what can be exported. Columns are as in the schema, times are stamps; `evidence` and `facts` are JSON. Temperatures of
`telemetry` are °C, and its sums are of so many readings as its counts say"""


class UnknownTable(LookupError):
    """A table that is not for export."""


def rows(pen: Pen, table: str) -> Iterator[dict[str, Any]]:
    """The rows of `table`, without ever holding more than one."""
    if table not in TABLES:
        raise UnknownTable(f"{table}: no such table; there are {', '.join(sorted(TABLES))}")
    return pen.each(f"{TABLES[table]} ORDER BY 1, 2")
