"""Plan a file in a child process, bounded in time and memory. Blocks: call it from a thread.

Neither NumPy nor an engine enters this process, and a file that breaks the planner breaks a child only.
"""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from threading import Event, Timer
from typing import IO

from watchdog.core.plan import Plan, from_bytes
from watchdog.jobfile.errand import Errand, PlanTrouble
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.rules import Rules

PATIENCE = 30.0
"""s that any file may take"""
SLOWEST = 300_000.0
"""bytes a second below which the child is given up: plain Python on a small board does several times that"""
_LONGEST_WORD = 4096
_LARGEST_PLAN = 256 * 2**20


def plan_file(
    path: Path | str,
    limits: MachineLimits,
    progress: Callable[[int, int], None] | None = None,
    *,
    rules: Rules | None = None,
    engine: str | None = None,
    seconds: float | None = None,
) -> Plan:
    """The plan of the file for a machine.

    `progress` hears bytes read and bytes in all, now and then. `engine`: 'plain' or 'vector', None chooses. `seconds` bounds
    the time; None allows what the file's size may need. PlanTrouble when there is no plan; its `kind` says why.
    """
    errand = Errand(limits, rules or Rules(), engine)
    try:
        size = os.stat(path).st_size
    except (OSError, ValueError) as wrong:
        raise PlanTrouble("unreadable", getattr(wrong, "strerror", None) or str(wrong)) from wrong
    command = [sys.executable, "-m", "watchdog.jobfile.worker", os.fspath(path)]
    # one thread of its own is all the child needs; more would only take address space
    surroundings = {**os.environ, "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, env=surroundings
    ) as child:
        late = Event()

        def give_up() -> None:
            late.set()
            child.kill()

        timer = Timer(PATIENCE + size / SLOWEST if seconds is None else seconds, give_up)
        timer.daemon = True
        timer.start()
        try:
            assert child.stdin is not None
            assert child.stdout is not None
            return _hear(child.stdin, child.stdout, errand, progress)
        except (ValueError, BrokenPipeError) as wrong:
            if late.is_set():
                raise PlanTrouble("out-of-time", "planning took too long and was given up") from wrong
            raise PlanTrouble("failed", f"the planner ended without a plan: {wrong}") from wrong
        finally:
            timer.cancel()
            child.kill()  # a word that made no sense, or a caller that raised, leaves no child behind


def _hear(to: IO[bytes], said: IO[bytes], errand: Errand, progress: Callable[[int, int], None] | None) -> Plan:
    """Send the errand and follow the answer; ValueError when it ends before a plan."""
    to.write(errand.to_json().encode() + b"\n")
    to.close()
    while word := said.readline(_LONGEST_WORD):
        kind, _, rest = word.decode("utf-8", "replace").strip().partition(" ")
        if kind == "read":
            done, _, whole = rest.partition(" of ")
            if progress is not None:
                progress(int(done), int(whole))
        elif kind == "plan":
            count = int(rest)
            if not 0 <= count <= _LARGEST_PLAN:
                raise ValueError("a plan of impossible size")
            return from_bytes(said.read(count))
        elif kind == "trouble":
            name, _, words = rest.partition(" ")
            raise PlanTrouble(name, words)
        else:
            break
    raise ValueError("no answer")
