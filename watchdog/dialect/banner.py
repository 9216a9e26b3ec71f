"""What a controller says as it starts, and what it says about itself.

    start                                the controller has been reset: jobs and heat are gone
     Watchdog Reset                      why; bare or behind `echo:`
    FIRMWARE_NAME:… PROTOCOL_VERSION:…   answer to M115
    Cap:AUTOREPORT_TEMP:1                and one line for each capability
    echo:  M92 X80.00 Y80.00 Z400.00 E415.00      stored settings, also in the banner, prefixed or bare
    echo:Unknown command: "M798"         asked for what it does not know

Source: RepRap community wiki, page "G-code", M115, M503.
"""

import re

from watchdog.core.observations import (
    Capability,
    Fault,
    FaultKind,
    Firmware,
    Observation,
    ResetCause,
    Setting,
    Started,
    UnknownCommand,
)

WHOLE: dict[str, tuple[Observation, ...]] = {
    "start": (Started(),),
    "PowerUp": (ResetCause("power-up"),),
    "External Reset": (ResetCause("external"),),
    "Software Reset": (ResetCause("software"),),
    # These two are faults as well: a sagging supply, a program that hung.
    "Brown out Reset": (ResetCause("brown-out"), Fault(FaultKind.SUPPLY, "Brown out Reset")),
    "Watchdog Reset": (ResetCause("watchdog"), Fault(FaultKind.CONTROLLER, "Watchdog Reset")),
}
"""Lines that mean something only as a whole."""

_CAPABILITY = re.compile(r"Cap:\s?([A-Z0-9_]{1,40}):\s?([01])", re.ASCII)
_SETTING = re.compile(r"(M92|M20[1-5]|M566)((?:\s+[A-Z]-?\d{1,7}(?:\.\d{1,6})?)+)\s*(?:;.*)?", re.ASCII)
_WORD = re.compile(r"([A-Z])(\S+)")
_UNKNOWN = re.compile(r"Unknown (?:command|[GMT] ?code):\s*\"?([^\"]*)\"?", re.IGNORECASE)
_BAD = re.compile(r"E: Bad ([GMT])-code (\d{1,5})", re.ASCII)


def read_about(line: str) -> tuple[Observation, ...] | None:
    """The answer to M115: the description and the capabilities."""
    if line.startswith("Cap:"):
        found = _CAPABILITY.fullmatch(line)
        return None if found is None else (Capability(found[1], found[2] == "1"),)
    return (Firmware(line),) if line.startswith("FIRMWARE_NAME:") else None


def read_setting(line: str) -> tuple[Observation, ...] | None:
    """One line of stored speeds, accelerations or junction limits, in the unit that the controller uses."""
    found = _SETTING.fullmatch(line)
    if found is None:
        return None
    return (Setting(found[1], tuple((letter, float(number)) for letter, number in _WORD.findall(found[2]))),)


def read_unknown_command(line: str) -> tuple[Observation, ...] | None:
    """The controller does not know a command. `command` is '' where it does not repeat it."""
    found = _UNKNOWN.match(line)
    if found is not None:
        return (UnknownCommand(found[1].strip()),)
    bad = _BAD.fullmatch(line)
    return None if bad is None else (UnknownCommand(bad[1] + bad[2]),)
