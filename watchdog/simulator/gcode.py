"""One order of the RepRap G-code dialect, as a controller reads it.

    N17 G1 X41.25 Y-7.5 F2400*88 ; comment
        code G1, words X 41.25, Y −7.5, F 2400

The simulator reads for itself, so that a mistake in the watch's own reader cannot hide behind it.
"""

import re
from typing import NamedTuple

_CODE = re.compile(r"\s*([GMT])\s*(\d+(?:\.\d+)?)\s*(.*?)\s*\Z", re.DOTALL)
_WORD = re.compile(r"([A-Z])\s*([-+]?(?:\d+\.?\d*|\.\d+))?")
_TEXT = frozenset({"M0", "M1", "M23", "M28", "M30", "M32", "M33", "M117", "M118"})


class Order(NamedTuple):
    """What one line asks for."""

    code: str
    """'G1', 'M104'; '' for a line that holds no command"""
    words: dict[str, float | None]
    """numbers by letter; None for a letter without one"""
    text: str
    """what stands behind the code"""
    whole: str
    """the line without comment and number"""

    def number(self, letter: str) -> float | None:
        """The number behind `letter`; None when it is not there."""
        return self.words.get(letter)


def read_order(line: str) -> Order | None:
    """The order in `line`; None when it holds nothing but a comment."""
    whole = line.partition(";")[0].strip()
    if not whole:
        return None
    found = _CODE.match(whole)
    if found is None:
        return Order("", {}, whole, whole)
    letter, number, text = found.groups()
    code = letter + (number.lstrip("0") or "0")
    words = {} if code in _TEXT else {name: float(value) if value else None for name, value in _WORD.findall(text)}
    return Order(code, words, text, whole)


def checksum(line: bytes) -> int:
    """XOR of every byte."""
    total = 0
    for byte in line:
        total ^= byte
    return total
