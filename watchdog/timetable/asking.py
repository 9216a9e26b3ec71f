"""Read one calendar in a child process, bounded in time and memory.

The calendar libraries never enter this process, a hostile calendar or a stuck name look-up breaks a child only, and no
reading holds this process's interpreter.
"""

import asyncio
import sys

from watchdog.timetable.errand import Answer, Errand, answer_from_json, errand_to_json

_GRACE = 5.0  # s for the child to start and to answer, beyond what it may take
_SHARE = 0.5  # of the time may go into fetching


async def ask(errand: Errand) -> Answer:
    """The answer of a child; one with `trouble` where it gave none. `errand.limit` (s) bounds the whole.

    Cancelled, it takes the child with it.
    """
    whole = errand.limit
    try:
        child = await asyncio.create_subprocess_exec(
            *(sys.executable, "-m", "watchdog.timetable.worker"),
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=asyncio.subprocess.DEVNULL,
        )
    except OSError as wrong:
        return Answer((), None, f"no process to read it could be started: {wrong.strerror or wrong}")
    try:
        async with asyncio.timeout(whole + _GRACE):
            said, _ = await child.communicate(errand_to_json(errand._replace(limit=whole * _SHARE)).encode())
        # in a thread, since the answer for a large calendar is some MB
        return await asyncio.to_thread(answer_from_json, said, errand.calendar.meaning.kind)
    except TimeoutError:
        fault = f"it was not fetched and read within {whole:g} s, and was given up"
        return Answer((), None, f"{fault}. Look for events that repeat too often, or export the present year alone")
    except ValueError:
        return Answer((), None, "its reader ended without an answer. Export the present school year alone")
    finally:
        if child.returncode is None:
            child.kill()
            await child.wait()
