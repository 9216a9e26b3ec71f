"""The child process that plans one file: `python -m watchdog.jobfile.worker FILE`.

    stdin     the errand, one line of JSON (`errand.Errand`)
    stdout    read 1048576 of 20000000          now and then
              plan 34567                        then so many bytes: the plan
              trouble still-being-written …     instead of a plan

It lives for one file, so whatever a file does to it, memory included, ends with it. It bounds its own address space and
asks for little of the processor's attention.
"""

import os
import resource
import stat
import sys
from array import array
from contextlib import suppress
from dataclasses import replace
from typing import BinaryIO

from watchdog.core.plan import Plan
from watchdog.jobfile.engine import LARGEST, Engine
from watchdog.jobfile.errand import Errand, PlanTrouble, errand_from_json
from watchdog.jobfile.plain import PlainEngine

PIECE = 262_144
"""bytes read at once"""
SMALL = 1_000_000
"""bytes up to which starting NumPy costs more than it saves"""
TELL_EVERY = 4 * 2**20
"""bytes between two words of progress"""


def main(arguments: list[str]) -> int:
    """Plan the file that is named; the exit status is 0 with a plan, else 1."""
    out = sys.stdout.buffer
    try:
        errand = errand_from_json(sys.stdin.readline())
        resource.setrlimit(resource.RLIMIT_AS, (errand.memory, errand.memory))
        with suppress(PermissionError):  # a service may be forbidden even to stand back
            os.nice(5)
        kept = plan_here(arguments[0], errand, out).to_bytes()
        out.write(b"plan %d\n" % len(kept))
        out.write(kept)
    except PlanTrouble as trouble:
        return _tell(out, trouble.kind, str(trouble))
    except MemoryError:
        return _tell(out, "out-of-memory", "the file needs more memory than it may take")
    except OSError as wrong:
        return _tell(out, "unreadable", wrong.strerror or str(wrong))
    out.flush()
    return 0


def plan_here(path: str, errand: Errand, out: BinaryIO) -> Plan:
    """Plan a file in this very process; PlanTrouble or OSError when there is no plan."""
    descriptor = os.open(path, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK)  # a pipe of that name must not hold us
    with open(descriptor, "rb", buffering=0) as file:
        before = os.fstat(descriptor)
        if not stat.S_ISREG(before.st_mode):
            raise PlanTrouble("unreadable", "not a regular file")
        if before.st_size > LARGEST:
            raise PlanTrouble("too-large", "4 GiB or more: no card holds such a file")
        engine = _engine(errand, before.st_size)
        told = 0
        while piece := file.read(PIECE):
            if engine.size + len(piece) > LARGEST:
                raise PlanTrouble("too-large", "4 GiB or more: no card holds such a file")
            engine.feed(piece)
            if engine.size - told >= TELL_EVERY:
                told = engine.size
                out.write(b"read %d of %d\n" % (told, max(told, before.st_size)))
                out.flush()
        after = os.fstat(descriptor)
        if (after.st_size, after.st_mtime_ns) != (before.st_size, before.st_mtime_ns) or engine.size != after.st_size:
            raise PlanTrouble("still-being-written", "the file changed while it was read: it is still being written")
        return _with_lines(engine.finish(), file)


def _engine(errand: Errand, size: int) -> Engine:
    """The quicker engine that this computer has."""
    if errand.engine == "plain" or (errand.engine is None and size < SMALL):
        return PlainEngine(errand.limits, errand.rules)
    try:
        from watchdog.jobfile.vector import VectorEngine
    except ImportError:  # NumPy is not there, or not for this processor
        if errand.engine == "vector":
            raise PlanTrouble("failed", "NumPy is not installed") from None
        return PlainEngine(errand.limits, errand.rules)
    return VectorEngine(errand.limits, errand.rules)


def _with_lines(plan: Plan, file: BinaryIO) -> Plan:
    """The plan with the line number of every fault that has a place."""
    places = array("Q", sorted({fault.byte for fault in plan.faults if fault.byte is not None}))
    if not places:
        return plan
    file.seek(0)
    lines: dict[int, int] = {}
    at, line, nth = 0, 1, 0
    while nth < len(places) and (piece := file.read(PIECE)):
        while nth < len(places) and places[nth] < at + len(piece):
            lines[places[nth]] = line + piece.count(b"\n", 0, places[nth] - at)
            nth += 1
        line += piece.count(b"\n")
        at += len(piece)
    return replace(
        plan,
        faults=tuple(
            fault._replace(line=None if fault.byte is None else lines.get(fault.byte)) for fault in plan.faults
        ),
    )


def _tell(out: BinaryIO, kind: str, words: str) -> int:
    out.write(f"trouble {kind} {words}\n".encode())
    out.flush()
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
