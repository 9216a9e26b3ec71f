"""Small charts in a terminal: columns of blocks, or of ASCII characters. Nothing is told by colour."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Final, NamedTuple

_BLOCKS, _ASCII = " ▁▂▃▄▅▆▇█", " ..:::::#"
UNKNOWN = "?"
"""at the foot of a column of which nothing is known"""
LABEL = 8  # characters left of a chart
_HOLDS: Final = 3.0  # times the usual distance of two readings; project's choice

Point = tuple[float, float | None]
"""(stamp, value); None where it is not known"""


class Mark(NamedTuple):
    """Something that happened."""

    at: float
    letter: str


class Frame(NamedTuple):
    """What all charts of one picture share."""

    since: float
    until: float
    width: int
    """columns"""
    ascii: bool = False

    def column(self, stamp: float) -> int | None:
        """Where `stamp` lies; None outside."""
        if not self.since <= stamp <= self.until:
            return None
        return int((stamp - self.since) / max(1e-9, self.until - self.since) * (self.width - 1))


def chart(
    frame: Frame, title: str, points: Sequence[Point], line: Sequence[Point] = (), *, unit: str = "", height: int = 5
) -> list[str]:
    """`points` as filled columns (the highest of each), `line` as a dash in each column. A sentence when nothing is known."""
    filled, dashed = _columns(frame, points), _columns(frame, line, steady=True)
    known = [value for value in (*filled, *dashed) if value is not None]
    if not any(value is not None for value in filled):
        return [f"{title}: not known"]
    low, high = min(known), max(known)
    if high - low < 1e-9:
        low, high = low - 1, high + 1
    signs = _ASCII if frame.ascii else _BLOCKS
    rows = [[" "] * frame.width for _ in range(height)]
    for column in range(frame.width):
        value = filled[column]
        if value is None:
            rows[-1][column] = UNKNOWN
        else:
            eighths = max(1, round((value - low) / (high - low) * height * 8))
            for row in range(height):
                rows[row][column] = signs[min(8, max(0, eighths - (height - 1 - row) * 8))]
        goal = dashed[column]
        if goal is not None:
            rows[height - 1 - min(height - 1, int((goal - low) / (high - low) * height))][column] = (
                "-" if frame.ascii else "─"
            )
    digits = 0 if high - low >= 2 else 1  # else both ends would read alike
    labels = [f"{high:.{digits}f}", *[""] * (height - 2), f"{low:.{digits}f}"]
    shown = [f"{label:>{LABEL - 1}} {''.join(row)}".rstrip() for label, row in zip(labels, rows, strict=True)]
    return [f"{title}{f', {unit}' if unit else ''}", *shown]


def marked(frame: Frame, marks: Sequence[Mark]) -> str:
    """One row of letters; where several fall together a star."""
    row = [" "] * frame.width
    for mark in marks:
        column = frame.column(mark.at)
        if column is not None:
            row[column] = mark.letter if row[column] in {" ", mark.letter} else "*"
    return (" " * LABEL + "".join(row)).rstrip()


def axis(frame: Frame, first: str, last: str) -> str:
    """The times at both ends."""
    return " " * LABEL + first + last.rjust(max(0, frame.width - len(first)))


def _gap(points: Sequence[Point]) -> float:
    """s that a reading is taken to hold: some times what usually lies between two. Longer, and nothing is known."""
    apart = sorted(later[0] - earlier[0] for earlier, later in pairwise(points))
    return _HOLDS * apart[len(apart) // 2] if apart else 0.0


def _columns(frame: Frame, points: Sequence[Point], *, steady: bool = False) -> list[float | None]:
    """The highest value of each column. `steady`: what was said holds until something else is said."""
    found: list[float | None] = [None] * frame.width
    said = [False] * frame.width
    for stamp, value in points:
        column = frame.column(stamp)
        if column is None:
            continue
        said[column] = True
        before = found[column]
        if value is not None and (before is None or value > before):
            found[column] = value
    step = (frame.until - frame.since) / max(1, frame.width - 1)
    holds = frame.width if steady else int(_gap(points) / step)
    last, since = None, 0
    end = max((column for column, was in enumerate(said) if was), default=-1)
    for column in range(end + 1):
        if said[column]:
            last, since = found[column], column
        elif column - since <= holds:
            found[column] = last
    return found
