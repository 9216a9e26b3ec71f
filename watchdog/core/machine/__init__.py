"""The machine's state, from observations alone: what it does, how hot it is, which job runs.

`observe` takes a line in, `tick` a second, `resumed` the end of a blind time; `snapshot` shows what is known. All are pure:
the memory goes in and another one comes out.
"""

from watchdog.core.machine.limits import Limits
from watchdog.core.machine.memory import Memory, begin
from watchdog.core.machine.step import expected, observe, resumed, tick
from watchdog.core.machine.view import snapshot

__all__ = ["Limits", "Memory", "begin", "expected", "observe", "resumed", "snapshot", "tick"]
