"""Positions: the answer to M114.

    X:41.25 Y:7.50 Z:0.60 E:128.40 Count X:3300 Y:600 Z:240        mm; what follows `Count` is steps or mm by family
    ok C: X:41.2500 Y:7.5000 Z:0.6000 E:128.4000
    X:41.25,Y:7.50,Z:0.60,E:128.40,F:2400

Here `E:` is the filament axis and `A: B: C:` are axes; so this is tried before the temperatures.
Source: RepRap community wiki, page "G-code", M114.
"""

import re

from watchdog.core.observations import Observation, Position

_NUMBER = r"(-?\d{1,6}(?:\.\d{1,6})?)"
_POSITION = re.compile(
    rf"(?:C: )?X:\s?{_NUMBER}[\s,]+Y:\s?{_NUMBER}[\s,]+Z:\s?{_NUMBER}(?![^\s,])(?:[\s,]+E:\s?{_NUMBER}(?![^\s,]))?",
    re.ASCII,
)


def read(line: str) -> tuple[Observation, ...] | None:
    """The position in `line`, mm; on most families the planned end, not the moving nozzle."""
    found = _POSITION.match(line)
    if found is None:
        return None
    x, y, z, e = found.groups()
    return (Position(float(x), float(y), float(z), None if e is None else float(e)),)
