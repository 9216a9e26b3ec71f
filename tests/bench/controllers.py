"""Many machines that cost next to nothing, on pseudo-terminals: they answer, at once, what the watch asks.

    python -m tests.bench.controllers FOLDER COUNT

They live in a process of their own, so that the watch alone is measured. Each lies at FOLDER/m-01 … and has a job from its
card under way, hot and moving on, so that every detector has something to look at. Ends with its standard input.
"""

import os
import pty
import selectors
import sys
import tty
from collections.abc import Callable
from pathlib import Path

SIZE = 40_000_000  # bytes of the job: hours of it


class Controllers:
    """`count` machines. `serve` in a thread or a process of its own; `say` may be called from another thread."""

    def __init__(self, folder: Path, count: int) -> None:
        self.names = [f"m-{nth:02}" for nth in range(1, count + 1)]
        self.queries = 0
        self._ends: dict[int, str] = {}
        self._shut: set[int] = set()  # nobody has opened the other end. We must not: a port in use is left alone
        self._rest: dict[int, bytes] = {}
        self._progress: dict[int, int] = {}
        for name in self.names:
            end, line = pty.openpty()
            tty.setraw(line)
            os.set_blocking(end, False)
            self._ends[end] = name
            self._rest[end], self._progress[end] = b"", 1000
            link = folder / name
            link.unlink(missing_ok=True)
            link.symlink_to(os.ttyname(line))
            os.close(line)
            self._shut.add(end)
        self._by_name = {name: end for end, name in self._ends.items()}

    def say(self, name: str, line: str) -> None:
        """Let the machine `name` say something unasked."""
        os.write(self._by_name[name], line.encode() + b"\n")

    def serve(self, done: Callable[[], bool], also: int | None = None) -> None:
        """Answer until `done()`, or until the descriptor `also` can be read."""
        with selectors.DefaultSelector() as ready:
            if also is not None:
                ready.register(also, selectors.EVENT_READ)
            while not done():
                for end in list(self._shut):
                    if self._answer(end):
                        self._shut.discard(end)
                        ready.register(end, selectors.EVENT_READ)
                for key, _ in ready.select(0.1 if self._shut else 0.5):
                    if key.fd == also:
                        return
                    if not self._answer(key.fd):
                        self._shut.add(key.fd)
                        ready.unregister(key.fd)

    def close(self) -> None:
        """Let the terminals go."""
        for end in self._ends:
            os.close(end)

    def _answer(self, end: int) -> bool:
        """Answer what has been asked; False when nobody has the other end open."""
        try:
            *asked, self._rest[end] = (self._rest[end] + os.read(end, 4096)).split(b"\n")
        except BlockingIOError:
            return True
        except OSError:
            return False
        for query in asked:
            self.queries += 1
            os.write(end, self._words(end, query.strip()))
        return True

    def _words(self, end: int, query: bytes) -> bytes:
        if query == b"M105":
            return b"ok T:204.96 /205.00 B:59.98 /60.00 @:46 B@:33\n"
        if query == b"M27":
            self._progress[end] += 150
            return b"SD printing byte %d/%d\nok\n" % (self._progress[end], SIZE)
        return b"ok\n"


if __name__ == "__main__":
    machines = Controllers(Path(sys.argv[1]), int(sys.argv[2]))
    print("there", flush=True)
    machines.serve(lambda: False, sys.stdin.fileno())
