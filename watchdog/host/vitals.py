"""How the watching computer itself is, as the kernel and the service manager tell it in files.

    /proc/meminfo                       MemAvailable, MemTotal in kB               proc(5)
    /proc/loadavg                       runnable tasks over 1, 5, 15 min           proc(5)
    /sys/class/hwmon/*/in*_lcrit_alarm  1: a supply voltage is critically low      kernel, hwmon sysfs-interface
    /run/systemd/shutdown/scheduled     USEC=, MODE= of a scheduled shutdown       systemd, format from memory
    /run/reboot-required                an update waits for a restart              Debian, common practice
    /etc/apt/apt.conf.d/*               Unattended-Upgrade::Automatic-Reboot       Debian's unattended-upgrades, from memory
    adjtimex(2)                         STA_UNSYNC: nobody disciplines the clock   <sys/timex.h>
    /run/systemd/timesync/synchronized  the clock has been set right               systemd-timesyncd.service(8)

What a computer does not tell is None; nothing here raises.
"""

import ctypes
import os
import re
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

_STA_UNSYNC = 0x0040  # adjtimex(2), <sys/timex.h>
_TIMEX_SIZE = 512  # bytes: more than struct timex has on any Linux; the kernel writes no further than its own
_STATUS_AT = {
    4: 16,
    8: 40,
}  # byte offset of `status` (after modes, offset, freq, maxerror, esterror) by the size of a long
_TIME_ERROR = 5
_AUTOMATIC = re.compile(r'^[ \t]*Unattended-Upgrade::Automatic-Reboot[ \t]+"(\w{1,8})"', re.MULTILINE)


class Vitals(NamedTuple):
    """One look at the computer."""

    disk_free: int | None = None
    """bytes where the record lies"""
    memory_free: int | None = None
    """bytes that programs can still have"""
    memory: int | None = None
    """bytes altogether"""
    load: float | None = None
    """runnable tasks a processor, over 5 min"""
    clock_kept: bool | None = None
    """something keeps the wall clock right"""
    undervoltage: bool | None = None
    """a supply voltage is critically low just now"""
    ends_at: float | None = None
    """stamp of a scheduled shutdown or restart"""
    ends_how: str | None = None
    """'reboot', 'poweroff', 'halt' … as the service manager names it"""
    restart_wanted: bool | None = None
    """an update waits for a restart"""
    restarts_itself: bool | None = None
    """the package timers restart the computer by themselves when an update wants it"""


def look(state: Path, root: Path = Path("/"), unsynchronised: "Callable[[], bool | None] | None" = None) -> Vitals:
    """The vitals now. `state`: folder of the record; `root`: where the kernel's trees hang."""
    memory_free, memory = _memory(root / "proc/meminfo")
    ends_at, ends_how = _shutdown(root / "run/systemd/shutdown/scheduled")
    free = (unsynchronised or clock_unsynchronised)()
    if free is None and (root / "run/systemd/timesync/synchronized").exists():
        free = False  # a service may not be allowed to ask the kernel: ProtectClock= refuses adjtimex
    return Vitals(
        disk_free=_disk(state),
        memory_free=memory_free,
        memory=memory,
        load=_load(root / "proc/loadavg"),
        clock_kept=None if free is None else not free,
        undervoltage=_undervoltage(root / "sys/class/hwmon"),
        ends_at=ends_at,
        ends_how=ends_how,
        restart_wanted=(root / "run/reboot-required").exists() if (root / "run").is_dir() else None,
        restarts_itself=_restarts_itself(root / "etc/apt/apt.conf.d"),
    )


def clock_unsynchronised() -> bool | None:
    """Whether the kernel's clock runs free; None where that cannot be asked."""
    try:
        libc = ctypes.CDLL(None, use_errno=True)
        timex = ctypes.create_string_buffer(_TIMEX_SIZE)
        state = libc.adjtimex(timex)
    except (OSError, AttributeError):
        return None
    offset = _STATUS_AT.get(ctypes.sizeof(ctypes.c_long))
    if state < 0 or offset is None:
        return None
    status = int.from_bytes(timex.raw[offset : offset + 4], "little" if _LITTLE else "big")
    return state == _TIME_ERROR or bool(status & _STA_UNSYNC)


_LITTLE = memoryview(b"\x01\x00\x00\x00").cast("I")[0] == 1


def _text(place: Path) -> str | None:
    try:
        return place.read_bytes()[:65536].decode("utf-8", "replace")
    except OSError:
        return None


def _disk(state: Path) -> int | None:
    try:
        return shutil.disk_usage(state).free
    except OSError:
        return None


def _memory(place: Path) -> tuple[int | None, int | None]:
    found: dict[str, int] = {}
    for line in (_text(place) or "").splitlines():
        name, _, rest = line.partition(":")
        words = rest.split()
        if words and words[0].isdigit():
            found[name] = int(words[0]) * 1024
    return found.get("MemAvailable"), found.get("MemTotal")


def _load(place: Path) -> float | None:
    words = (_text(place) or "").split()
    try:
        return float(words[1]) / (os.cpu_count() or 1)
    except (IndexError, ValueError):
        return None


def _undervoltage(folder: Path) -> bool | None:
    try:
        alarms = [_text(place) for place in sorted(folder.glob("*/in*_lcrit_alarm"))]
    except OSError:
        return None
    told = [text.strip() == "1" for text in alarms if text is not None]
    return any(told) if told else None


def _restarts_itself(folder: Path) -> bool | None:
    """The last word of the files that the package timers read, in their order."""
    try:
        texts = [_text(place) for place in sorted(folder.iterdir()) if place.is_file()]
    except OSError:
        return None
    said = [word for text in texts if text is not None for word in _AUTOMATIC.findall(text)]
    return said[-1].lower() in {"true", "yes", "on", "1"} if said else None


def _shutdown(place: Path) -> tuple[float | None, str | None]:
    told = dict(line.partition("=")[::2] for line in (_text(place) or "").splitlines())
    usec = told.get("USEC", "")
    return (int(usec) / 1e6 if usec.isascii() and usec.isdigit() else None), told.get("MODE")
