"""Lines → columns, with NumPy: the plain moves of a batch all at once, all other lines one by one.

A line that reads or changes position or modes cuts the batch into stretches within which the modes hold; a batch with many
such lines (arcs, say) is read in plain Python instead. Everything else (comments, fans, heat, limits) cuts nothing.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray

from watchdog.jobfile.engine import Engine
from watchdog.jobfile.modal import Modal
from watchdog.jobfile.plain_reading import plain_moves, walk
from watchdog.jobfile.rows import Force, HeatSet, Rows, Wait
from watchdog.jobfile.vector_apart import Apart, Floats, Places, apart

MOST_ARCS = 4
"""arcs in a batch, each of which may be 20 000 moves, from which rows are planned as they come"""
MOST_CUTS = 48
"""cuts in a batch from which plain reading is the quicker"""

_NAMES = ("x", "y", "z", "e", "v", "start", "end", "high")
_ARC = re.compile(rb"\s*(?:N\s*\d+\s*)?G\s*0*[23](?!\d)", re.IGNORECASE)
_STILL = re.compile(rb"M(?!0*(?:82|83|220)(?!\d))\d+|T\d|G4(?!\d)")


@dataclass(slots=True)
class Columns:
    """`rows.Rows` as arrays."""

    x: Floats
    y: Floats
    z: Floats
    e: Floats
    v: Floats
    start: Places
    end: Places
    high: Floats
    events: list[tuple[int, Wait | HeatSet]]
    forces: list[tuple[int, Force]]


def _columns(
    parts: Sequence[NDArray[Any]], events: list[tuple[int, Wait | HeatSet]], forces: list[tuple[int, Force]]
) -> Columns:
    x, y, z, e, v, start, end, high = parts
    return Columns(x, y, z, e, v, start, end, high, events, forces)


def _as_arrays(rows: Rows) -> list[NDArray[Any]]:
    return [np.array(getattr(rows, name), np.int64 if name in ("start", "end") else np.float64) for name in _NAMES]


def columns_of(rows: Rows) -> Columns:
    """Rows that were read one by one."""
    return _columns(_as_arrays(rows), list(rows.events), list(rows.forces))


@dataclass(slots=True)
class _Pieces:
    """What has been read of a batch so far."""

    force: Force
    columns: list[list[NDArray[Any]]] = field(default_factory=lambda: [[] for _ in _NAMES])
    count: int = 0
    events: list[tuple[int, Wait | HeatSet]] = field(default_factory=list)
    forces: list[tuple[int, Force]] = field(default_factory=list)

    def add(self, block: Sequence[NDArray[Any]]) -> None:
        for column, part in zip(self.columns, block, strict=True):
            column.append(part)
        self.count += len(block[0])

    def joined(self) -> Columns:
        if not self.count:
            none, nowhere = np.zeros(0), np.zeros(0, np.int64)
            return Columns(none, none, none, none, none, nowhere, nowhere, none, self.events, self.forces)
        whole = [np.concatenate(parts) if len(parts) > 1 else parts[0] for parts in self.columns]
        return _columns(whole, self.events, self.forces)


def read_columns(engine: Engine, lines: bytes, at: int) -> Columns:
    """Every line in its order. `lines`: whole lines, each ended by LF, that begin at byte `at`."""
    found = apart(lines)
    if found is not None:
        cuts = sum(1 for start, end in found.others if lines[start] != 59 and not _STILL.match(lines, start, end))
        arcs = sum(1 for start, end in found.others if _ARC.match(lines, start, end))
        if cuts <= MOST_CUTS and arcs <= MOST_ARCS:
            return _stretches(engine, lines, at, found)
    walk(engine, lines, *plain_moves(lines), at)
    return columns_of(engine.rows)


def _stretches(engine: Engine, lines: bytes, at: int, found: Apart) -> Columns:
    modal, rows, others, starts = engine.modal, engine.rows, found.others, found.heads
    letters = np.flatnonzero((found.kinds & 4) != 0)
    marks = np.frombuffer(lines, np.uint8)[letters]
    row = np.cumsum(marks == 71) - 1  # 'G'
    row, marks = row[marks != 71], marks[marks != 71]
    ends = found.breaks[np.searchsorted(found.breaks, starts)] + 1
    words: list[Floats | None] = []
    for letter in b"XYZEF":
        here = np.flatnonzero(marks == letter)
        column = None
        if len(here):
            column = np.full(len(starts), np.nan)
            column[row[here]] = found.numbers[here]
        words.append(column)
    pieces = _Pieces(modal.force, forces=[(0, modal.force)])
    low = 0
    before = np.searchsorted(starts, [start for start, _ in others]).tolist() if others else []
    for (start, end), high in zip(others, before, strict=True):
        if lines[start] == 59:  # ';'
            continue
        if not _STILL.match(lines, start, end):
            _flush(engine, pieces, words, starts, ends, low, high, at)
            low = high
        line = lines[start:end].decode("latin-1")
        if engine.too_long(line):
            continue
        modal.obey(line, at + start, at + end + 1)
        if rows.events or rows.end or len(rows.forces) > 1:
            base = pieces.count + high - low
            pieces.events += [(base + nth, event) for nth, event in rows.events]
            pieces.forces += [(base + nth, force) for nth, force in rows.forces[1:]]
            if rows.end:
                engine.bound(modal.x, modal.y, modal.z, at + start)
                pieces.add(_as_arrays(rows))
            rows.clear(modal.force)
    _flush(engine, pieces, words, starts, ends, low, len(starts), at)
    return pieces.joined()


def _flush(
    engine: Engine,
    pieces: _Pieces,
    words: list[Floats | None],
    starts: Places,
    ends: Places,
    low: int,
    high: int,
    at: int,
) -> None:
    """The plain moves [low, high), all under the present modes."""
    if low == high:
        return
    modal = engine.modal
    x, y, z, e, f = (None if column is None else column[low:high] for column in words)
    count = high - low
    dx, at_x = _way(x, modal.x, modal.scale, count, relative=modal.relative)
    dy, at_y = _way(y, modal.y, modal.scale, count, relative=modal.relative)
    dz, at_z = _way(z, modal.z, modal.scale, count, relative=modal.relative)
    de, at_e = _way(e, modal.e, modal.scale, count, relative=modal.relative_e)
    speed = _speed(f, modal, count)
    if engine.rules.bounds is not None and modal.homed:
        _bound(engine, dx, dy, dz, de, at_x, at_y, at_z, starts[low:high] + at)
    modal.x, modal.y, modal.z, modal.e = float(at_x[-1]), float(at_y[-1]), float(at_z[-1]), float(at_e[-1])
    pieces.add([dx, dy, dz, de, speed, starts[low:high] + at, ends[low:high] + at, at_z])


def _way(column: Floats | None, now: float, scale: float, count: int, *, relative: bool) -> tuple[Floats, Floats]:
    """How far each move goes along one axis, and where it ends."""
    if column is None:
        return np.zeros(count), np.full(count, now)
    if scale != 1.0:
        column = column * scale
    absent = np.isnan(column)
    if relative:
        way = np.where(absent, 0.0, column)
        return way, now + np.cumsum(way)
    places = np.concatenate(([now], column))
    if absent.any():
        last = np.arange(count + 1)
        last[1:][absent] = 0
        np.maximum.accumulate(last, out=last)
        places = places[last]
    return np.diff(places), places[1:]


def _speed(column: Floats | None, modal: Modal, count: int) -> Floats:
    """mm/s that each move asks for; the last one stays in force."""
    if column is None:
        return np.full(count, modal.feed * modal.percent)
    last = np.arange(1, count + 1)
    last[~(column > 0)] = 0
    np.maximum.accumulate(last, out=last)
    feeds = np.concatenate(([modal.feed], column * modal.scale / 60))[last]
    modal.feed = float(feeds[-1])
    return feeds * modal.percent


def _bound(engine: Engine, dx: Floats, dy: Floats, dz: Floats, de: Floats, x: Floats, y: Floats, z: Floats, starts: Places) -> None:  # fmt: skip  # noqa: E501
    assert engine.rules.bounds is not None
    outside = np.zeros(len(x), bool)
    for places, (least, most) in zip((x, y, z), engine.rules.bounds, strict=True):
        outside |= (places < least) | (places > most)
    outside &= (dx != 0) | (dy != 0) | (dz != 0) | (de != 0)
    for n in np.flatnonzero(outside)[:5].tolist():
        engine.bound(float(x[n]), float(y[n]), float(z[n]), int(starts[n]))
