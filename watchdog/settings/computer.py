"""The watching computer itself."""

from typing import Literal

from watchdog.core.snapshot import Origin, Snapshot
from watchdog.settings.base import Model


class Computer(Model):
    """How this computer is looked after."""

    keep_awake: Literal["streamed", "jobs", "never"] = "jobs"
    """while which jobs its sleep and shutdown are held back: streamed ones, all that are watched, or none (needs the package
    dbus-fast)"""


def depends(told: Computer, seen: Snapshot) -> bool:
    """Whether this computer should stay awake for what the machine does."""
    if told.keep_awake == "never" or seen.active is not True or seen.job is None:
        return False
    return told.keep_awake == "jobs" or seen.job.origin is Origin.STREAMED
