"""What one job file should take, byte by byte: small, immutable, free of the file that it was made from.

    byte ──▶ seconds   when a machine in good order has read that far (it reads ahead of the nozzle)
         ──▶ mm        of filament that the lines up to there ask for
         ──▶ stretch   how long its counter may rightly stand still around there

Times are planned seconds since the job's first line, waits for heat and the like included. Kept as packed arrays, at
most 16 bytes a knot, since a watch holds the plans of a whole folder.
"""

import json
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import NamedTuple, cast

SHORT = 5.0
"""s: a standstill up to this is not noted; every place may stand still for so long"""
BLOCK = 2048
"""bytes: standstills are noted by block, since a card is read in sectors and the reader's lead is not exactly known"""

_MAGIC = b"planned job 1\n"
_UNITS = {"I": 4, "d": 8, "f": 4}


class Hold(NamedTuple):
    """A place where the job stops moving on purpose."""

    kind: str
    """'heat', 'home', 'probe', 'dwell', 'person' or 'tool'"""
    byte: int
    """where its line ends: the counter stands here"""
    seconds: float
    """planned; 0 for a person, whose time nobody can plan"""
    at: float
    """planned s at which it begins"""
    what: str = ""
    """the command, as 'M600'"""


class HeatChange(NamedTuple):
    """A heater gets another target."""

    byte: int
    heater: str
    """'nozzle', 'bed' or 'chamber'"""
    target: float
    """°C; 0 = off"""
    at: float
    """planned s"""


class Fault(NamedTuple):
    """Something that is wrong with the file."""

    name: str
    words: str
    byte: int | None = None
    """where its line begins; None when it is about the file as a whole"""
    line: int | None = None
    """counted from 1"""


class Stated(NamedTuple):
    """A duration that the file itself states."""

    seconds: float
    by: str
    """'comment', 'elapsed' (a running mark in a comment) or 'M73'"""
    text: str
    """the line it was read from"""


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan of one file for one machine."""

    size: int
    """bytes"""
    digest: str
    """SHA-256 of the content, hexadecimal"""
    seconds: float
    """from the first line to the end of the last move, planned waits included"""
    moving: float
    """s of motion in it"""
    filament: float
    """mm, net of what is drawn back and fed again"""
    moves: int
    knot_bytes: bytes
    """4 bytes each, unsigned, rising; a card's file system holds no file of 4 GiB or more"""
    knot_seconds: bytes
    """8 bytes each, floating; never falls"""
    knot_filament: bytes
    """4 bytes each, floating"""
    still_blocks: bytes
    """4 bytes each, unsigned: numbers of the blocks that hold a standstill longer than SHORT"""
    still_seconds: bytes
    """4 bytes each, floating: the longest standstill in that block; infinite where a person is waited for"""
    tolerance: float
    """s that the map may be off"""
    holds: tuple[Hold, ...]
    layers: tuple[int, ...]
    """bytes at which a layer begins, the first one included"""
    heats: tuple[HeatChange, ...]
    faults: tuple[Fault, ...]
    stated: tuple[Stated, ...]
    odd: int
    """lines of which something could not be read"""
    unknown: tuple[tuple[str, int], ...]
    """commands that the planner does not know, and how often each came"""
    too_fast: int
    """moves that ask for more speed than an axis has, and are planned slower"""
    hot_still: float
    """s with a heater on and nothing moving, warm-up not included"""

    @property
    def pauses(self) -> tuple[Hold, ...]:
        """The places that need a person."""
        return tuple(hold for hold in self.holds if hold.kind == "person")

    @property
    def first_layer_end(self) -> int | None:
        """The byte at which the second layer begins; None when there is only one."""
        return self.layers[1] if len(self.layers) > 1 else None

    def seconds_at(self, byte: float) -> float:
        """Planned s when a reader gets to `byte`; places outside the file count as its ends."""
        return _between(_unsigned(self.knot_bytes), _floats(self.knot_seconds), byte)

    def filament_at(self, byte: float) -> float:
        """mm asked for up to `byte`. Exact at the knots, in proportion to bytes between them."""
        return _between(_unsigned(self.knot_bytes), _singles(self.knot_filament), byte)

    def byte_at(self, seconds: float) -> int:
        """How far a reader should be after `seconds`. While it stands still, the byte at which it stands."""
        places, times = _unsigned(self.knot_bytes), _floats(self.knot_seconds)
        right = bisect_right(times, seconds)
        if right == 0:
            return places[0]
        if right == len(times):
            return places[-1]
        before, after = times[right - 1], times[right]
        share = (seconds - before) / (after - before)
        return int(places[right - 1] + share * (places[right] - places[right - 1]))

    def stretch_at(self, byte: int) -> float:
        """The longest standstill of the byte counter at or near `byte`: planned s, holds included, at least SHORT.

        Near means within a block of 2048 bytes before and after. Infinite where the job waits for a person.
        """
        blocks, seconds = _unsigned(self.still_blocks), _singles(self.still_seconds)
        here = max(0, min(byte, self.size)) // BLOCK
        longest = SHORT
        for index in range(bisect_left(blocks, here - 1), bisect_right(blocks, here + 1)):
            longest = max(longest, seconds[index])
        return longest

    def knots(self) -> list[tuple[int, float, float]]:
        """Every knot: byte, planned s, mm."""
        return list(
            zip(_unsigned(self.knot_bytes), _floats(self.knot_seconds), _singles(self.knot_filament), strict=True)
        )

    def to_bytes(self) -> bytes:
        """The whole plan, to be kept."""
        packed = {name: getattr(self, name) for name in _PACKED}
        head = {name: value for name, value in asdict(self).items() if name not in packed}
        head["packed"] = [len(part) for part in packed.values()]
        head["little"] = _LITTLE
        words = json.dumps(head, separators=(",", ":")).encode()
        return b"".join((_MAGIC, len(words).to_bytes(4, "big"), words, *packed.values()))


_PACKED = ("knot_bytes", "knot_seconds", "knot_filament", "still_blocks", "still_seconds")
_LITTLE = memoryview(b"\x01\x00\x00\x00").cast("I")[0] == 1


def from_bytes(kept: bytes) -> Plan:
    """The plan that `to_bytes` made; ValueError when it is not one, is cut short, or comes from another processor."""
    start = len(_MAGIC) + 4
    if kept[: len(_MAGIC)] != _MAGIC or len(kept) < start:
        raise ValueError("no kept plan")
    at = start + int.from_bytes(kept[len(_MAGIC) : start], "big")
    try:
        head = json.loads(kept[start:at])
        lengths = head.pop("packed")
        if head.pop("little") != _LITTLE or at + sum(lengths) != len(kept):
            raise ValueError("kept plan is cut short or from another processor")
        for name, length in zip(_PACKED, lengths, strict=True):
            head[name] = kept[at : at + length]
            at += length
        head["holds"] = tuple(Hold(*each) for each in head["holds"])
        head["heats"] = tuple(HeatChange(*each) for each in head["heats"])
        head["faults"] = tuple(Fault(*each) for each in head["faults"])
        head["stated"] = tuple(Stated(*each) for each in head["stated"])
        head["layers"] = tuple(head["layers"])
        head["unknown"] = tuple((str(code), int(times)) for code, times in head["unknown"])
        return Plan(**head)
    except (TypeError, KeyError, AttributeError, UnicodeDecodeError, json.JSONDecodeError) as wrong:
        raise ValueError(f"no kept plan: {wrong}") from wrong


def _unsigned(packed: bytes) -> Sequence[int]:
    return cast("Sequence[int]", memoryview(packed).cast("I"))


def _floats(packed: bytes) -> Sequence[float]:
    return cast("Sequence[float]", memoryview(packed).cast("d"))


def _singles(packed: bytes) -> Sequence[float]:
    return cast("Sequence[float]", memoryview(packed).cast("f"))


def _between(places: Sequence[int], values: Sequence[float], byte: float) -> float:
    right = bisect_right(places, byte)
    if right == 0:
        return values[0]
    if right == len(places):
        return values[-1]
    before, after = places[right - 1], places[right]
    if byte == before or after == before:
        return values[right - 1]
    return values[right - 1] + (values[right] - values[right - 1]) * (byte - before) / (after - before)
