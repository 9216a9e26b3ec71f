"""One watch per state directory: two would split the bytes of one port and write one record twice.

A lock of the kernel's (flock), not a file's presence: it ends with the process, however that ends. The file stays behind on
purpose; removing it would let two later starters hold two different files of the same name.
"""

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

LOCK_NAME = "watch.lock"


class AnotherInstance(Exception):
    """The state directory is in use."""

    def __init__(self, directory: Path, pid: int | None) -> None:
        self.directory = directory
        self.pid = pid
        """of the process that holds it; None when it has not written that yet"""
        who = "Another process" if pid is None else f"Process {pid}"
        super().__init__(
            f"{directory}: {who} already keeps its watch here. End it first (systemctl stop emberward), "
            "or give this one a state directory of its own."
        )


@contextmanager
def only_instance(directory: Path) -> Iterator[None]:
    """Hold `directory` for this process alone.

    Raises AnotherInstance when a process holds it, OSError when the lock file cannot be made or locked. Keep it until the end:
    a child that is forked without exec would go on holding it.
    """
    lock = os.open(directory / LOCK_NAME, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    try:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise AnotherInstance(directory, _pid_in(lock)) from None
        with suppress(OSError):  # a full disk: the lock holds all the same, only nobody can say whose it is
            os.ftruncate(lock, 0)
            os.pwrite(lock, f"{os.getpid()}\n".encode(), 0)
        yield
    finally:
        os.close(lock)


def _pid_in(lock: int) -> int | None:
    try:
        return int(os.pread(lock, 32, 0))
    except ValueError:
        return None
