"""From the line that completes a condition to the message handed to its route, through the real service in real time.

    python -m tests.bench latency [--times 30] [--json]

    reported   the machine itself says that it has halted: judged with the line. Counts from the write of that line
    matured    the same with an on-delay of 3 s: judged by a tick, of which there is one a second. Counts from the moment at
               which the delay is over, so a second at the most is waiting for the tick

The line is written to a pseudo-terminal; the message ends at a local HTTP receiver behind Apprise's JSON route. Between
them lie the service's own work (`line to child`: reading, judging, the record on the disk, wording) and the start of the
child process that sends (`child to post`, mostly loading the delivery library). Each time another machine halts, so that no
occurrence meets the memory of the one before; the others are asked once a second meanwhile.
"""

import argparse
import random
import tempfile
import threading
import time
from contextlib import ExitStack
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from queue import Queue
from typing import Any, NamedTuple

from tests.bench.controllers import Controllers
from tests.bench.figures import Row, share, show
from tests.bench.installation import Installation

GOAL = 1.5  # s, of 99 in 100
DELAY = 3.0  # s
LINE = "Error:Printer halted. kill() called!"
ALARM = "controller-halted"
BETWEEN = 1.5  # s from one occurrence to the next at the least: the child before has ended
PATIENCE = 60.0  # s for a message


class Taken(NamedTuple):
    """One occurrence."""

    to_child: float
    """s until the sending process was seen"""
    to_post: float
    """s from there until its request arrived"""


class Receiver:
    """Takes what is posted, and notes when its call came in."""

    def __init__(self) -> None:
        self.posts: Queue[tuple[float, bytes]] = Queue()
        posts = self.posts

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                at = time.monotonic()
                posts.put((at, self.rfile.read(int(self.headers["Content-Length"]))))
                self.send_response(200)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, format: str, *args: Any) -> None:
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.url = f"json://127.0.0.1:{self._server.server_address[1]}/"
        threading.Thread(target=self._server.serve_forever, daemon=True).start()

    def close(self) -> None:
        self._server.shutdown()
        self._server.server_close()


class Nursery:
    """Sees when a process has a new child, within some 2 ms."""

    def __init__(self, process: int) -> None:
        self.seen: list[float] = []
        self._done = threading.Event()
        self._children = Path(f"/proc/{process}/task/{process}/children")
        self._thread = threading.Thread(target=self._look)
        self._thread.start()

    def close(self) -> None:
        self._done.set()
        self._thread.join()

    def first_since(self, began: float) -> float:
        """When the first child since `began` was seen."""
        return next(at for at in list(self.seen) if at >= began)

    def _look(self) -> None:
        known: set[str] = set()
        while not self._done.wait(0.002):
            now = set(self._children.read_text().split())
            if now - known:
                self.seen.append(time.monotonic())
            known = now


def measured(kind: str, times: int, delay: float) -> list[Row]:
    """The rows of one kind of condition: the whole way, and its two parts."""
    chance = random.Random(7)
    with ExitStack() as leaving:
        folder = Path(leaving.enter_context(tempfile.TemporaryDirectory()))
        machines = Controllers(folder, times)
        leaving.callback(machines.close)
        done = threading.Event()
        serving = threading.Thread(target=machines.serve, args=(done.is_set,))
        serving.start()
        leaving.callback(serving.join)
        leaving.callback(done.set)
        receiver = Receiver()
        leaving.callback(receiver.close)
        extra = f'[alarms.{ALARM}]\non_delay = "{delay:g} s"\n'
        house = leaving.enter_context(Installation(folder, machines.names, receiver.url, extra=extra))
        nursery = Nursery(house.process)
        leaving.callback(nursery.close)
        time.sleep(5)
        found = []
        for name in machines.names:
            time.sleep(BETWEEN + chance.random())  # anywhere between two ticks
            began = time.monotonic() + delay
            machines.say(name, LINE)
            at, body = receiver.posts.get(timeout=PATIENCE)
            if name.encode() not in body:
                raise RuntimeError(f"another message came first: {body!r}")
            spawned = nursery.first_since(began)
            found.append(Taken(spawned - began, at - spawned))
            house.acknowledge(f"{name}/{ALARM}")
        unread = max(machine["longest_unread_s"] for machine in house.status()["machines"])
    parts = {
        "all": [taken.to_child + taken.to_post for taken in found],
        "line to child": [taken.to_child for taken in found],
        "child to post": [taken.to_post for taken in found],
    }
    return [
        {"condition": kind, "part": part, "times": len(values)}
        | {f"p{of}_s": share(values, of) for of in (50, 95, 99)}
        | {"longest_unread_s": unread}
        for part, values in parts.items()
    ]


def main(words: list[str]) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench latency", description=__doc__.split("\n")[0])
    parser.add_argument(
        "--times", type=int, default=30, help="occurrences of each kind, a machine for each (default 30)"
    )
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args(words)
    rows = [*measured("reported", asked.times, 0.0), *measured("matured", asked.times, DELAY)]
    show("latency", rows, [f"p99_s of all below {GOAL} s"], as_json=asked.json)
