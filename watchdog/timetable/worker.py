"""The child process that reads one calendar: `python -m watchdog.timetable.worker`, errand in, answer out (`errand`).

It lives for one calendar, so whatever a file, a server or a library does to it ends with it. It bounds its own memory and
asks for little of the processor's attention. Nothing but the answer is written: no log can hold an address.
"""

import os
import resource
import sys
from contextlib import suppress

from watchdog.clock import Clock
from watchdog.timetable.errand import Answer, answer_to_json, do, errand_from_json

MEMORY = 512 * 2**20
"""bytes of address space; 5 MB of events take about 250 MB; project's choice"""


def main() -> None:
    """Read the errand, do it, answer."""
    errand = errand_from_json(sys.stdin.read())
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    with suppress(PermissionError):  # a service may be forbidden even to stand back
        os.nice(5)
    clock = Clock()
    try:
        answer = do(errand, lambda: clock.now().elapsed)
    except MemoryError:
        answer = Answer((), None, "it asks for more memory than it may take. Export the present school year alone")
    sys.stdout.write(answer_to_json(answer))
    sys.stdout.flush()
    os._exit(0)  # an ordinary end takes the objects of a large calendar apart one by one


if __name__ == "__main__":
    main()
