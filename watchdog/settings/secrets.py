"""What must hold for a secret that stands in exactly one of several places: in the settings, in a file, in a credential."""

import os
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from watchdog.settings.addresses import NoAddress, open_to_others

Fault = tuple[list[str], str]
"""path in the settings, and what is wrong there"""


def exactly_one(table: object, name: str, places: Sequence[str], what: str) -> Iterator[Fault]:
    """The table `name` as it is written names one of `places` for its `what` ('address', 'password')."""
    if not isinstance(table, Mapping):
        return
    given = [place for place in places if place in table]
    if len(given) != 1:
        found = f"there are {' and '.join(given)}" if given else f"there is no {what}"
        *others, last = places
        yield [name], f"{found}. Give exactly one of {', '.join(others)} and {last}."


def unusable(
    told: Any, name: str, places: Sequence[str], what: str, read: Callable[[], object], *, handed: bool
) -> Iterator[Fault]:
    """A secret that is missing or none, or that others on this computer can read.

    `told`: the table's model; its second place is the file. `read` raises NoAddress. `handed`: False passes a credential over
    that only the service gets from systemd.
    """
    given = [place for place in places if getattr(told, place) is not None]
    if len(given) != 1 or (given == ["credential"] and not handed and "CREDENTIALS_DIRECTORY" not in os.environ):
        return  # the first is told by `exactly_one`
    try:
        read()
    except NoAddress as none:
        yield [name, given[0]], f"the {what} cannot be used: {none.strerror}."
    file = getattr(told, places[1])
    if file is not None and open_to_others(file):
        yield [name, places[1]], f"others on this computer can read the {what}. Do: chmod 600 {file}"
