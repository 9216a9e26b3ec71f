"""A job's time, progress and end, as the machine tells them.

    echo:Print time: 1h 4m 9s            its own timer (M31, and at the end)
    0:47                                 the same, hours and minutes, as the third line of an answer to M27
    echo: M73 Progress: 42%; Time left: 37m; Change: 12m;        what the job file claims
    Done printing file                   read to its end; the last moves may still run
    SD print stopped by user.            ended early
    FR:100%    echo:E0 Flow: 100%    SpeedMultiply:150           overrides, %

Source: RepRap community wiki, page "G-code", M27, M31, M73, M78, M220, M221.
"""

import re

from watchdog.core.observations import (
    FlowOverride,
    JobDone,
    JobElapsed,
    JobProgress,
    JobStopped,
    Listing,
    Observation,
    Remark,
    SpeedOverride,
)

WHOLE: dict[str, tuple[Observation, ...]] = {
    "Done printing file": (JobDone(),),
    "SD file done.": (JobDone(),),
    "SD print stopped by user.": (JobStopped(),),
}
"""Lines that mean something only as a whole."""

_UNITS = r"(?:(\d{1,4})d ?)?(?:(\d{1,4})h ?)?(?:(\d{1,4})m ?)?(?:(\d{1,9})s)?"
_PRINT_TIME = re.compile(rf"Print time:\s*{_UNITS}", re.ASCII)
_IN_WORDS = re.compile(r"(\d{1,4}) hours? (\d{1,4}) minutes?", re.ASCII)
_CLOCK = re.compile(r"(\d{1,3}):([0-5]\d)", re.ASCII)
_ENDED = re.compile(rf"(Finished|Cancelled) printing file (?:.*?)(?:, print time was {_UNITS})?", re.ASCII)
_CLAIM = re.compile(r"M73 Progress:\s*(-?\d{1,3}(?:\.\d+)?)%(?:; Time left: (?:(\d{1,4})h ?)?(\d{1,5})m)?.*", re.ASCII)
_NORMAL_CLAIM = re.compile(
    r"NORMAL MODE: Percent done: (-?\d{1,3}); print time remaining in mins: (-?\d{1,5})(?:;.*)?", re.ASCII
)
_SPEED = re.compile(r"(?:FR:|SpeedMultiply:)\s?(\d{1,4}(?:\.\d+)?)%?", re.ASCII)
_FLOW = re.compile(r"(?:E0 Flow:|FlowMultiply:)\s?(\d{1,4}(?:\.\d+)?)%?", re.ASCII)


def read_ending(line: str) -> tuple[Observation, ...] | None:
    """The end of a job in a sentence, with its time where it is told."""
    found = _ENDED.fullmatch(line)
    if found is None:
        return None
    end: Observation = JobDone() if found[1] == "Finished" else JobStopped()
    seconds = _seconds(found.groups()[1:])
    return (end,) if seconds is None else (end, JobElapsed(seconds))


def read_elapsed(line: str) -> tuple[Observation, ...] | None:
    """The machine's job timer, s."""
    if line.startswith("Print time:"):
        found = _PRINT_TIME.fullmatch(line)
        seconds = None if found is None else _seconds(found.groups())
        return None if seconds is None else (JobElapsed(seconds),)
    told = _IN_WORDS.fullmatch(line) or _CLOCK.fullmatch(line)
    return None if told is None else (JobElapsed(int(told[1]) * 3600.0 + int(told[2]) * 60.0),)


def read_claim(line: str) -> tuple[Observation, ...] | None:
    """Progress by the job file's own marks. A negative number means that the file has not said.

    Where a controller tells it for two speeds, the normal one counts; the quiet one is a remark.
    """
    if line.startswith("SILENT MODE:"):
        return (Remark(line),)
    normal = _NORMAL_CLAIM.fullmatch(line)
    if normal is not None:
        percent, minutes = int(normal[1]), int(normal[2])
        return (JobProgress(percent if percent >= 0 else None, minutes * 60.0 if minutes >= 0 else None),)
    found = _CLAIM.fullmatch(line)
    if found is None:
        return None
    left = None if found[3] is None else int(found[2] or 0) * 3600.0 + int(found[3]) * 60.0
    done = float(found[1])
    return (JobProgress(done if done >= 0 else None, left),)


def read_override(line: str) -> tuple[Observation, ...] | None:
    """Speed or flow in %. The flow of a second extruder is not told apart and stays a remark."""
    speed = _SPEED.fullmatch(line)
    if speed is not None:
        return (SpeedOverride(float(speed[1])),)
    flow = _FLOW.fullmatch(line)
    return None if flow is None else (FlowOverride(float(flow[1])),)


def read_counters(line: str) -> tuple[Observation, ...] | None:
    """Life-time counters and fan speeds: somebody asked for them, nothing here needs them."""
    return (Listing(line),) if line.startswith("Stats:") or " RPM" in line else None


def _seconds(units: tuple[str | None, ...]) -> float | None:
    """s of days, hours, minutes, seconds; None when none of them is there."""
    if not any(units):
        return None
    return sum(int(count or 0) * size for count, size in zip(units, (86400.0, 3600.0, 60.0, 1.0), strict=True))
