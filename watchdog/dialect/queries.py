"""All that the watch may ever send: a closed list, not a filter.

Everything else is refused, whatever it is: a job must not feel that somebody listens. Left out on purpose: M114 (some
controllers first wait for all motion to end, a visible stop in the part), M31 (overwrites the machine's status line),
anything with a value that changes the machine, and every answer to a prompt.
Source: RepRap community wiki, page "G-code"; what a query does to a running job: the controllers' published source code.
"""

import re
from enum import Enum
from typing import NamedTuple


class Use(NamedTuple):
    """How a query is written and when it may go out."""

    written: re.Pattern[str]
    in_job: bool
    """False: only when the machine is known to be idle"""


class Query(Enum):
    """The queries, by what they ask for. `value.written` is the whole line without its ending."""

    TEMPERATURES = Use(re.compile(r"M105"), True)
    PROGRESS = Use(re.compile(r"M27"), True)
    FILE_NAME = Use(re.compile(r"M27 C"), True)  # walks the card's directory: once a job
    REPORT_TEMPERATURES = Use(
        re.compile(r"M155 S(?:[1-9]|[1-5][0-9]|60)"), True
    )  # s; never S0, another may have armed it
    REPORT_PROGRESS = Use(re.compile(r"M27 S(?:[1-9]|[1-5][0-9]|60)"), True)
    SPEED = Use(re.compile(r"M220"), True)
    FLOW = Use(re.compile(r"M221"), True)
    CLAIM = Use(re.compile(r"M73"), True)
    ABOUT = Use(re.compile(r"M115"), False)  # its answer is about 1 kB long
    SETTINGS = Use(re.compile(r"M503"), False)  # 2 to 4 kB


def query_of(text: str) -> Query | None:
    """The query that `text` writes, letter for letter; None when it is none of the list."""
    return next((query for query in Query if query.value.written.fullmatch(text)), None)


def permitted(text: str, idle: bool | None) -> bool:
    """Whether `text` may be sent now: the last gate before the wire.

    `idle`: True when the machine is known to execute nothing; None (cannot tell) counts as a job.
    """
    query = query_of(text)
    return query is not None and (query.value.in_job or idle is True)
