"""The plain moves of a batch told from its other lines, and their numbers read in one go."""

import re
import warnings
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from watchdog.jobfile.plain_reading import NOT_PLAIN, STRICT, TAIL

Floats = NDArray[np.float64]
Places = NDArray[np.int64]
Kinds = NDArray[np.uint8]

MOST_OTHERS = 600
"""lines in a batch from which patterns are the quicker to tell moves from the rest"""
_NUMERIC, _BLANK, _END, _WORD, _HEAD = 1, 2, 3, 4, 5  # the two letters have the bit of 4
_KINDS: Kinds = np.zeros(256, np.uint8)
for _kind, _letters in ((_NUMERIC, b"0123456789.-"), (_BLANK, b" "), (_END, b"\n"), (_WORD, b"XYZEF"), (_HEAD, b"G")):
    _KINDS[list(_letters)] = _kind
_BARE: Kinds = np.arange(256, dtype=np.uint8)
_BARE[list(b"GXYZEF\n")] = 32
_FOLLOWS = np.zeros(64, bool)
for _one, _two in (
    (_END, _HEAD), (_END, _END), (_HEAD, _NUMERIC), (_NUMERIC, _NUMERIC), (_NUMERIC, _BLANK), (_NUMERIC, _END),
    (_BLANK, _WORD), (_BLANK, _BLANK), (_BLANK, _END), (_WORD, _NUMERIC),
):  # fmt: skip
    _FOLLOWS[_one << 3 | _two] = True


class Apart(NamedTuple):
    """The plain moves of a batch, told from the rest."""

    others: list[tuple[int, int]]
    """first and behind-last byte of each line that is none"""
    kinds: Kinds
    """what each byte is; 0 in the other lines"""
    heads: Places
    """where each move begins"""
    breaks: Places
    """where each line ends"""
    numbers: Floats
    """one for each word"""


def apart(lines: bytes) -> Apart | None:
    """The quickest way that fits; None when no way does."""
    return _by_neighbours(lines) or _by_pattern(lines, NOT_PLAIN) or _by_pattern(lines, STRICT)


def _by_neighbours(lines: bytes) -> Apart | None:
    """By what may follow what; None when many lines are no plain moves, or numbers are odd, and patterns must tell."""
    whole = np.frombuffer(lines, np.uint8)
    kinds = _KINDS[whole]
    pairs = kinds << 3
    pairs[:-1] |= kinds[1:]
    wrong = np.flatnonzero(~_FOLLOWS[pairs[:-1]])
    breaks = np.flatnonzero(whole == 10)
    heads = np.flatnonzero(kinds == _HEAD)
    padded = np.minimum(heads + 2, len(whole) - 1)
    plain = (whole[np.minimum(heads + 1, len(whole) - 1)] | 1) == 49
    plain &= (whole[padded] == 32) | (whole[padded] == 10)
    wrong = np.concatenate((wrong + (kinds[wrong] == _END), heads[~plain]))
    if kinds[0] not in (_HEAD, _END):
        wrong = np.concatenate((wrong, [0]))
    if not len(wrong):
        return _numbers([], lines, kinds, heads, breaks)
    places = np.unique(np.searchsorted(breaks, wrong))
    if len(places) > MOST_OTHERS:
        return None
    ends = breaks[places]
    starts = np.where(places > 0, breaks[places - 1] + 1, 0)
    others = list(zip(starts.tolist(), ends.tolist(), strict=True))
    text = bytearray(lines)
    for start, end in others:
        text[start:end] = b" " * (end - start)
        kinds[start:end] = 0
    return _numbers(others, text, kinds, np.flatnonzero(kinds == _HEAD), breaks)


def _by_pattern(lines: bytes, pattern: re.Pattern[bytes]) -> Apart | None:
    """By a pattern: slower, but comments behind moves cost nothing more."""
    others = [found.span() for found in pattern.finditer(lines)]
    text = bytearray(lines)
    for start, end in others:
        text[start:end] = b" " * (end - start)
    if b";" in text:
        for found in TAIL.finditer(bytes(text)):
            text[found.start() : found.end()] = b" " * (found.end() - found.start())
    kinds = _KINDS[np.frombuffer(text, np.uint8)]
    return _numbers(others, text, kinds, np.flatnonzero(kinds == _HEAD), np.flatnonzero(kinds == _END))


def _numbers(
    others: list[tuple[int, int]], text: bytes | bytearray, kinds: Kinds, heads: Places, breaks: Places
) -> Apart | None:
    """The numbers of the moves' words; None when they do not fit the letters."""
    letters = int(np.count_nonzero(kinds == _WORD))
    if not letters:
        return Apart(others, kinds, heads, breaks, np.zeros(0))
    bare = _BARE[np.frombuffer(text, np.uint8)]
    bare[heads + 1] = 32  # the 0 or 1 of the G
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            numbers = np.fromstring(bare.tobytes(), sep=" ")
        except (DeprecationWarning, ValueError):
            return None
    return Apart(others, kinds, heads, breaks, numbers) if len(numbers) == letters else None
