"""Waits whose length the wire tells: until when a streamed job may rightly stand still.

    G4 S420       wait 420 s        G4 P1500      wait 1500 ms
    M0 S30, M1 P5000                stop for somebody, or for so long

Where both are told, S counts (RepRap community wiki, page "G-code", G4 and M0). What stands in the machine's queue goes
first, so the wait may begin later than it was sent.
"""

from math import isfinite
from typing import Final

from watchdog.core.observations import Command

CODES: Final = frozenset({"G4", "M0", "M1"})
_LONGEST: Final = 4 * 3600.0  # s: a longer one is a mistake or a damaged line; project's choice


def after(dwells: tuple[float, float] | None, command: Command, now: float) -> tuple[float, float] | None:
    """When the wait that was last sent began and will be over (s, elapsed), after `command`: one follows the other."""
    told = dict(command.words)
    seconds, thousandths = told.get("S"), told.get("P")
    long = seconds if seconds is not None else thousandths / 1000 if thousandths is not None else 0.0
    if not isfinite(long) or not 0 < long <= _LONGEST:
        return dwells
    until = now if dwells is None or dwells[1] < now else dwells[1]
    return now, until + long
