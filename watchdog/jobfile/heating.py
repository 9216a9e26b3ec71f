"""The commands that set heaters: M104, M140, M141 set; M109, M190, M191 set and wait; M116 waits for all.

`S` waits for heating only, `R` for cooling too. G10 P S sets the nozzle on some machines.
Source: RepRap community wiki, page "G-code".
"""

from typing import Protocol

from watchdog.jobfile.rows import HeatSet, Rows, Wait
from watchdog.jobfile.words import Line

_HEATERS = {
    "M104": ("nozzle", False),
    "M109": ("nozzle", True),
    "M140": ("bed", False),
    "M190": ("bed", True),
    "M141": ("chamber", False),
    "M191": ("chamber", True),
}


class _Reading(Protocol):
    rows: Rows
    odd: int

    def event(self, wait: Wait) -> None: ...


def heat(reading: _Reading, line: Line, start: int, end: int) -> bool:
    """Take in a command that sets a heater; False when it is none."""
    code, words = line.code, line.words
    if code == "M116":
        reading.event(Wait("heat", start, end, code))
        return True
    if code == "G10":
        target = words.get("S")
        if target is not None and 0 <= target < 1000:
            reading.rows.events.append((len(reading.rows.end), HeatSet(start, end, "nozzle", target)))
        return True
    if code not in _HEATERS:
        return False
    heater, waits = _HEATERS[code]
    cools = words.get("R") is not None
    target = words.get("R") if cools else words.get("S")
    if target is None:
        return True  # without a target these do nothing
    if not 0 <= target < 1000:
        reading.odd += not line.odd
        return True
    reading.rows.events.append((len(reading.rows.end), HeatSet(start, end, heater, target)))
    if waits and target > 0:
        reading.event(Wait("heat", start, end, code, 0.0, heater, target, cools))
    return True
