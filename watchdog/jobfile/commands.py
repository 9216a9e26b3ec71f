"""A job file's own commands, in one pass over its bytes: what lets a watch recognise a stream of it.

    python -m watchdog.jobfile.commands FILE      in a child process, which `commands_of` starts
        stdout   SHA-256 of the content, LF, then `Commands.to_bytes`

A file of 20 MB takes more than a second of a processor; in the service itself that would hold up everything else.
"""

import os
import re
import resource
import subprocess
import sys
from array import array
from contextlib import suppress
from hashlib import sha256
from itertools import accumulate
from pathlib import Path

from watchdog.core.commands import BEGINNING, CHATTER, DRAWN, EVERY, Commands, Sent, chained, from_bytes
from watchdog.jobfile.errand import MEMORY, PlanTrouble

PIECE = 262_144
"""bytes read at once"""
LONGEST_LINE = 65_536
"""bytes; the rest of a longer line is read as a line of its own. No host sends one"""
PATIENCE = 30.0
"""s that any file may take"""
SLOWEST = 300_000.0
"""bytes a second below which the child is given up"""

_COMMENT = re.compile(rb";[^\n]*")
_ASIDE = re.compile(rb"\([^()\n]*\)")
_CHECKED = re.compile(rb"\*\d+$", re.MULTILINE)
_NUMBERED = re.compile(rb"^N\d+(?=[GMTD]\d)", re.MULTILINE)
_PADDED = re.compile(rb"^([GMTD])0+(?=\d)", re.MULTILINE)
_CODE = re.compile(rb"[GMTD]\d{1,5}(?:\.\d{1,3})?")
_DRAWS = re.compile(rb"G[0-3](?=.*[XY])(?=.*E\.?\d)")
_CHATTER = frozenset(code.encode() for code in CHATTER)


class Reading:
    """Takes a file piece by piece: `feed` each, then `finish` once."""

    def __init__(self) -> None:
        self._sent = Sent()
        self._held = b""
        self._at = 0  # byte at which `_held` begins
        self._drawn = 0
        self._sure = 0
        self._end = 0  # byte behind the last own command
        self._first, self._places = array("I"), array("I", [0])
        self._chunks, self._ends = array("I"), array("I")

    def feed(self, piece: bytes) -> None:
        """Take in the next bytes."""
        held = self._held + piece.replace(b"\r", b"\n")
        whole = held.rfind(b"\n") + 1
        if not whole and len(held) >= LONGEST_LINE:
            whole = len(held)
        self._read(held[:whole])
        self._held = held[whole:]

    def finish(self) -> Commands:
        """The file has ended."""
        self._read(self._held)
        total = self._sent.own
        if total > BEGINNING and (total - BEGINNING) % EVERY:
            self._places.append(self._end)
        packed = (self._first, self._places, self._chunks, self._ends)
        return Commands(total, self._sure or total + 1, *(numbers.tobytes() for numbers in packed))

    def _read(self, lines: bytes) -> None:
        bare = _COMMENT.sub(b"", lines)
        if b"(" in bare:
            bare = _ASIDE.sub(b"", bare)
        bare = bare.upper().translate(None, b" \t")
        if b"*" in bare:
            bare = _CHECKED.sub(b"", bare)
        bare = _PADDED.sub(rb"\1", _NUMBERED.sub(b"", bare))
        lengths = map(len, lines.split(b"\n"))
        ends = accumulate(lengths, lambda end, length: end + length + 1, initial=self._at)
        next(ends)
        for line, end in zip(bare.split(b"\n"), ends, strict=True):
            if line:
                found = _CODE.match(line)
                if found is not None and found[0] not in _CHATTER:
                    self._take(line, min(end, self._at + len(lines)))
        self._at += len(lines)

    def _take(self, line: bytes, end: int) -> None:
        """One own command, with the byte behind its line."""
        before = self._sent.marks
        self._sent = sent = chained(self._sent, line)
        self._end = end
        own = sent.own
        if own <= BEGINNING:
            self._first.append(sent.last[-1])
            self._places.append(end)
        elif (own - BEGINNING) % EVERY == 0:
            self._places.append(end)
        if sent.marks is not before:
            chunk, _ = sent.marks[-1]
            self._chunks.append(chunk)
            self._ends.append(own)
        if not self._sure and _DRAWS.match(line):
            self._drawn += 1
            if self._drawn >= DRAWN:
                self._sure = own


def commands_of(path: Path | str, seconds: float | None = None) -> tuple[str, Commands]:
    """SHA-256 of the file's content and its own commands, read by a child process. Blocks: call it from a thread.

    PlanTrouble when it cannot be read. `seconds` bounds the time; None allows what its size may need.
    """
    try:
        allowed = PATIENCE + os.stat(path).st_size / SLOWEST if seconds is None else seconds
        command = [sys.executable, "-m", "watchdog.jobfile.commands", os.fspath(path)]
        done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, timeout=allowed, check=False)
    except subprocess.TimeoutExpired as late:
        raise PlanTrouble("out-of-time", "reading the commands took too long and was given up") from late
    except (OSError, ValueError) as wrong:
        raise PlanTrouble("unreadable", getattr(wrong, "strerror", None) or str(wrong)) from wrong
    digest, _, kept = done.stdout.partition(b"\n")
    if done.returncode:
        words = done.stderr.decode("utf-8", "replace").strip().rpartition("\n")[2]
        raise PlanTrouble("unreadable", words or "its commands could not be read")
    try:
        return digest.decode("ascii"), from_bytes(kept)
    except ValueError as wrong:
        raise PlanTrouble("failed", str(wrong)) from wrong


def main(arguments: list[str]) -> int:
    """Read the file that is named and write its commands."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    with suppress(PermissionError):  # a service may be forbidden even to stand back
        os.nice(5)
    content, reading = sha256(), Reading()
    try:
        with open(arguments[0], "rb", buffering=0) as file:
            while piece := file.read(PIECE):
                content.update(piece)
                reading.feed(piece)
    except OSError as wrong:
        print(wrong.strerror or wrong, file=sys.stderr)
        return 1
    sys.stdout.buffer.write(content.hexdigest().encode() + b"\n" + reading.finish().to_bytes())
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
