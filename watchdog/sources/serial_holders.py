"""Who else has a device open. Two readers of one port get every byte only once between them.

So whoever streams a job through the port would lose acknowledgements, and the job with them, without any restart of the
machine. Looking before opening costs a few milliseconds. Only processes that this user may look into are seen; behind
it stand flock and TIOCEXCL.
"""

import os
import stat
from pathlib import Path
from threading import Lock
from typing import NamedTuple

PROCESSES = Path("/proc")


class Holder(NamedTuple):
    """A process that has the device open."""

    pid: int
    command: str


_ONE_AT_A_TIME = Lock()
"""fifty ports that open at once would have fifty threads fight for the interpreter, and the reading would wait for them"""


def who_holds(device: Path, processes: Path = PROCESSES) -> list[Holder]:
    """The other processes that have `device` open, by process id; empty when there are none or none can be seen."""
    try:
        number = device.stat()
    except OSError:
        return []
    if not stat.S_ISCHR(number.st_mode):
        return []
    own = os.getpid()
    with _ONE_AT_A_TIME:
        pids = sorted(int(entry.name) for entry in processes.iterdir() if entry.name.isdigit())
        return [
            Holder(pid, _command(processes / str(pid)))
            for pid in pids
            if pid != own and _has_open(processes / str(pid) / "fd", number.st_rdev)
        ]


def _has_open(descriptors: Path, device: int) -> bool:
    try:
        entries = list(os.scandir(descriptors))
    except OSError:  # gone meanwhile, or another user's
        return False
    for entry in entries:
        try:
            if not os.readlink(entry.path).startswith("/dev/"):  # never stat a file: it may lie on a dead network
                continue
            found = os.stat(entry.path)
        except OSError:
            continue
        if stat.S_ISCHR(found.st_mode) and found.st_rdev == device:
            return True
    return False


def _command(process: Path) -> str:
    try:
        words = (process / "cmdline").read_bytes().replace(b"\0", b" ").decode("utf-8", "replace").strip()
        return words[:80] or (process / "comm").read_text().strip()
    except OSError:
        return "?"
