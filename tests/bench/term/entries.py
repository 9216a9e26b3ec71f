"""What goes into the record, in the order of time: steps of the watch, and what people enter."""

from typing import Any, NamedTuple

from watchdog.record.batch import Batch


class Entered(NamedTuple):
    """Something that a person enters."""

    at: float
    """stamp"""
    verb: str
    """'job', 'alarm' (labels); 'done', 'sheet', 'spool', 'weigh', 'measure'"""
    machine: str
    by: str
    what: dict[str, Any]


Entry = Batch | Entered


def when(entry: Entry) -> float:
    """Its stamp."""
    return entry.at if isinstance(entry, Entered) else entry.at.stamp
