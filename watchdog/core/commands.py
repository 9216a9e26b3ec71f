"""A streamed job's own commands: what tells its file by content, and how far it has got.

A host that streams a job names no file and tells no size. What it sends is the file's commands, one by one and in order,
with line numbers and without comments, between questions and a few commands of the host's own. So both sides are brought to
one normal form, the talk of hosts is left out of both, and then

    beginning   the last WINDOW commands, in order, are looked for among the file's first BEGINNING ones;
    marks       both sides are cut into chunks behind commands that their own checksum singles out (one in 32), and the
                last two chunks, in order, are looked for in the whole file.

Where a chunk ends depends on the commands alone, not on how many came before. A preamble of the host or a command typed by
somebody therefore spoils one chunk and no more; a watch that begins in the middle of a job finds its place; files that
begin alike are told apart once they differ. The idea is content-defined chunking (A. Muthitacharoen, B. Chen, D. Mazières,
"A low-bandwidth network file system", SOSP 2001, section 3.1).
"""

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from struct import pack
from typing import NamedTuple, cast
from zlib import crc32

WINDOW = 12
"""commands that are looked for in the beginning; project's choice"""
BEGINNING = 256
"""commands at the file's beginning that are known one by one; project's choice"""
EVERY = 64
"""commands between two known places behind that; project's choice"""
ONE_IN = 32
"""of so many commands one may end a chunk; project's choice"""
SHORTEST = 16
"""commands in a chunk at the least: shorter ones (draw back, hop, travel) are in every file; project's choice"""
DRAWN = 12
"""drawn lines from which a match counts. Files of one profile share their start, a purge line included; four to eight
lines are usual there. Common practice, no source"""
KEPT = 4
"""marks of a stream that are remembered"""
FOREIGN = 3
"""chunks in a row that are not in the file: it is another one. A typed command spoils one, at worst two"""
NEAR = 64
"""commands that a preamble of the host may hold: so far a place may be off that is only counted; project's choice"""

CHATTER = frozenset(
    {"", "T"}  # no command; `T?` asks a person
    | {"M20", "M21", "M22", "M23", "M24", "M25", "M26", "M27", "M28", "M29", "M30", "M32", "M33", "M36", "M928"}  # the card
    | {"M31", "M73", "M75", "M76", "M77", "M78"}  # job timers and progress: hosts write their own, or leave the file's out
    | {"M105", "M154", "M155", "M408", "M409"}  # asking for temperatures and for reports
    | {"M110", "M111", "M113", "M114", "M115", "M118", "M119", "M122", "M123", "M503"}  # numbering, questions, answers
    | {"M117"}  # the display: some hosts write there, some drop what the file writes
    | {"M400"}  # waiting for motion to end: hosts send it before they measure or pause
    | {"M0", "M1", "M226", "M600", "M601"}  # pauses: many hosts stop by themselves instead of sending them
    | {"M220", "M221"}  # speed and flow, turned by people while it runs
    | {"M108", "M112", "M410", "M524", "M876", "M999"}  # breaking off, and answers to a prompt
)  # fmt: skip
"""Codes that are no job's own. A code that only the host or only the file has would shift the count; one left out on both
sides shifts nothing."""

_ASIDE = re.compile(r"\([^()]*\)")
_MAGIC = b"own commands 1\n"
_LITTLE = memoryview(b"\x01\x00\x00\x00").cast("I")[0] == 1


def normal(code: str, rest: str) -> bytes:
    """The normal form of a command: no blanks, no comments in brackets, capitals. `code` as the dialect reads it."""
    if "(" in rest:
        rest = _ASIDE.sub("", rest)
    return (code + rest).replace(" ", "").replace("\t", "").upper().encode("utf-8", "surrogatepass")


class Sent(NamedTuple):
    """What a stream has sent and got acknowledged, a resent line once. Stored by position, as all memories."""

    own: int = 0
    """own commands since the line that may have begun the job"""
    last: tuple[int, ...] = ()
    """checksums of the last WINDOW of them, newest last"""
    chunk: int = 0
    """checksum of the present chunk so far"""
    length: int = 0
    """commands in it"""
    marks: tuple[tuple[int, int], ...] = ()
    """the last KEPT chunks: checksum, and `own` at its end"""
    whole: bool = False
    """seen from its beginning and without a gap, so that the count itself tells about where it is"""


def after(sent: Sent, code: str, rest: str) -> Sent:
    """`sent` after one more command; the same when it is no job's own."""
    if code in CHATTER:
        return sent
    return chained(sent, normal(code, rest))


def chained(sent: Sent, line: bytes) -> Sent:
    """`sent` after one more own command in its normal form."""
    own, last, chunk, length, marks, whole = sent
    itself = crc32(line)
    chunk, own, length = crc32(line, chunk), own + 1, length + 1
    if length >= SHORTEST and itself % ONE_IN == 0:
        marks = (*marks[1 - KEPT :], (chunk, own))
        chunk = length = 0
    return Sent(own, (*last[1 - WINDOW :], itself), chunk, length, marks, whole)


@dataclass(frozen=True, slots=True)
class Commands:
    """The own commands of one file: about 14 bytes for every 64 of them, and 2 KB. Numbers are packed, 4 bytes each."""

    total: int
    sure: int
    """own commands from which a match counts: DRAWN lines have been drawn. More than `total` when there are not so many"""
    first: bytes
    """checksums of the first BEGINNING commands"""
    places: bytes
    """byte behind 0, 1, … BEGINNING commands, then behind every EVERY more, then behind the last one"""
    chunks: bytes
    """checksum of each chunk, in order"""
    ends: bytes
    """own commands up to its end"""

    def byte_at(self, commands: int) -> int:
        """How far a reader is who has read so many own commands. Exact in the beginning, between neighbours behind it."""
        places = _unsigned(self.places)
        commands = max(0, min(commands, self.total))
        if commands <= BEGINNING or commands == self.total:
            return places[commands if commands <= BEGINNING else len(places) - 1]
        whole, part = divmod(commands - BEGINNING, EVERY)
        here, there = places[BEGINNING + whole], places[min(BEGINNING + whole + 1, len(places) - 1)]
        span = min(EVERY, self.total - BEGINNING - whole * EVERY)
        return here + (there - here) * part // span

    def behind(self, sent: Sent, near: int | None) -> int | None:
        """How many own commands of this file have been sent, by what was sent last; None when that is not found in it.

        `near`: how many it should be by counting; None when that is not known. Where parts of a file are alike the nearest
        one counts, if it is near enough. Few commands tell no place in a whole file, so the beginning is searched only then.
        """
        marked = list(self._by_marks(sent))
        if near is None or len(marked) == 1:
            return marked[0] if len(marked) == 1 else None
        best = min((*marked, *self._in_beginning(sent)), key=lambda place: abs(place - near), default=None)
        return None if best is None or abs(best - near) > NEAR else best

    def foreign(self, sent: Sent, chunks: int = FOREIGN) -> bool:
        """None of the last `chunks` that were sent is in any part of this file."""
        latest = sent.marks[-chunks:]
        return len(latest) == chunks and not any(
            next(_found(self.chunks, pack("I", chunk)), None) is not None for chunk, _ in latest
        )

    def _in_beginning(self, sent: Sent) -> Iterator[int]:
        if len(sent.last) == WINDOW:
            for index in _found(self.first, pack(f"{WINDOW}I", *sent.last)):
                if index + WINDOW >= self.sure:
                    yield index + WINDOW

    def _by_marks(self, sent: Sent) -> Iterator[int]:
        if len(sent.marks) >= 2:
            (before, _), (chunk, own) = sent.marks[-2:]
            ends = _unsigned(self.ends)
            for index in _found(self.chunks, pack("II", before, chunk)):
                if ends[index] >= self.sure:
                    yield min(self.total, ends[index + 1] + sent.own - own)

    def to_bytes(self) -> bytes:
        """All of it, to be kept."""
        packed = (self.first, self.places, self.chunks, self.ends)
        head = json.dumps([self.total, self.sure, _LITTLE, *map(len, packed)]).encode()
        return b"".join((_MAGIC, head, b"\n", *packed))


def from_bytes(kept: bytes) -> Commands:
    """What `to_bytes` made; ValueError when it is not that, is cut short, or comes from another processor."""
    magic, head, packed = kept[: len(_MAGIC)], *kept[len(_MAGIC) :].partition(b"\n")[::2]
    try:
        total, sure, little, *lengths = json.loads(head)
        if magic != _MAGIC or little != _LITTLE or len(lengths) != 4 or sum(lengths) != len(packed):
            raise ValueError("cut short, or from another processor")
        parts, at = [], 0
        for length in lengths:
            parts.append(packed[at : at + length])
            at += length
        made = Commands(int(total), int(sure), *parts)
        places = len(range(BEGINNING, made.total, EVERY)) + BEGINNING + 1 if made.total > BEGINNING else made.total + 1
        if len(made.places) != 4 * places or len(made.chunks) != len(made.ends) or len(made.chunks) % 4:
            raise ValueError("parts do not belong together")
    except (TypeError, ValueError) as wrong:
        raise ValueError(f"no kept commands: {wrong}") from wrong
    return made


def _unsigned(packed: bytes) -> Sequence[int]:
    return cast("Sequence[int]", memoryview(packed).cast("I"))


def _found(packed: bytes, part: bytes) -> Iterator[int]:
    """Where `part` stands in `packed`, counted in numbers of 4 bytes."""
    at = packed.find(part)
    while at >= 0:
        if at % 4 == 0:
            yield at // 4
        at = packed.find(part, at + 1)
