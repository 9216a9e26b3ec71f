"""What the service file forbids, laid on real processes by the kernel: the watch must do its work all the same.

The kernel's filter is the one that systemd uses (seccomp(2), SECCOMP_SET_MODE_FILTER); numbers of the system calls are those of
x86-64 (its asm/unistd_64.h). A call that is refused answers EPERM, as SystemCallErrorNumber= asks.
"""

import json
import platform
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from watchdog.simulator.jobs import SAMPLES

UNIT = Path(__file__).parents[2] / "systemd" / "emberward.service"
CALENDARS = Path(__file__).parents[1] / "timetable" / "calendars"
FORBIDDEN = {
    "sched_setaffinity": 203,
    "sched_setscheduler": 144,
    "setpriority": 141,
    "setrlimit": 160,
    "ioprio_set": 251,
    "adjtimex": 159,
    "clock_adjtime": 305,
    "clock_settime": 227,
    "chown": 92,
    "fchown": 93,
    "lchown": 94,
    "fchownat": 260,
    "setuid": 105,
    "setgroups": 116,
    "chroot": 161,
    "mount": 165,
}
INSTALL = """
import ctypes, os, struct, sys
refused = [int(number) for number in sys.argv[1].split(",")]
rows = [struct.pack("HBBI", 0x20, 0, 0, 0)]  # load the number of the call
for number in refused:
    rows += [struct.pack("HBBI", 0x15, 0, 1, number), struct.pack("HBBI", 0x06, 0, 0, 0x50000 | 1)]  # EPERM
rows.append(struct.pack("HBBI", 0x06, 0, 0, 0x7FFF0000))  # else let it pass
code = ctypes.create_string_buffer(b"".join(rows))

class Program(ctypes.Structure):
    _fields_ = [("length", ctypes.c_ushort), ("rows", ctypes.c_void_p)]

libc = ctypes.CDLL(None, use_errno=True)
assert libc.prctl(38, 1, 0, 0, 0) == 0  # PR_SET_NO_NEW_PRIVS
program = Program(len(rows), ctypes.cast(code, ctypes.c_void_p).value)
assert libc.prctl(22, 2, ctypes.byref(program)) == 0, ctypes.get_errno()  # PR_SET_SECCOMP
os.execv(sys.argv[2], sys.argv[2:])
"""

pytestmark = pytest.mark.skipif(platform.machine() != "x86_64", reason="the numbers of the calls are those of x86-64")


def forbidden(*command: str | Path) -> "subprocess.CompletedProcess[str]":
    """Run Python with `command` as under the unit."""
    numbers = ",".join(map(str, FORBIDDEN.values()))
    whole = [sys.executable, "-c", INSTALL, numbers, sys.executable, *map(str, command)]
    return subprocess.run(whole, capture_output=True, text=True, errors="replace", timeout=120, check=False)


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="systemd-analyze is not installed")
def test_the_calls_refused_here_are_refused_by_the_unit() -> None:
    assert re.findall(r"(?m)^SystemCallFilter=~(.*)$", UNIT.read_text()) == ["@privileged @resources"]
    groups, refused = ["@privileged", "@resources", "@mount"], set()
    while groups:
        shown = subprocess.run(
            ["systemd-analyze", "syscall-filter", groups.pop()], capture_output=True, text=True, check=True
        )
        words = [line.strip() for line in shown.stdout.splitlines()[1:]]
        groups += [word for word in words if word.startswith("@")]
        refused.update(words)
    assert set(FORBIDDEN) <= refused


def test_the_filter_refuses_what_it_should() -> None:
    done = forbidden("-c", "import os; os.nice(5)")
    assert "PermissionError" in done.stderr


def test_a_clock_that_may_not_be_asked_is_unknown() -> None:
    asks = "from watchdog.host.vitals import clock_unsynchronised as ask; print(ask())"
    assert forbidden("-c", asks).stdout == "None\n"


def test_job_files_are_planned_and_calendars_read(tmp_path: Path) -> None:
    """Their children lower themselves, which the unit forbids: with no plan and no calendar the watch is half blind."""
    ring, settings = tmp_path / "thumb-ring.gcode", tmp_path / "emberward.toml"
    ring.write_bytes(SAMPLES["thumb-ring.gcode"]())
    hours = 'zone = "Europe/Lisbon"\n[hours]\nmon = ["13:00-21:00"]\n'
    holidays = f'[calendars.holidays]\nmeans = "holidays"\nfile = "{CALENDARS / "holidays.ics"}"\n'
    settings.write_text(hours + holidays)
    done = forbidden("-m", "watchdog", "check", ring, "--start", "2026-10-05T14:00", "--config", settings, "--json")
    assert done.stderr == ""
    told = json.loads(done.stdout)
    assert told["seconds"] > 300
    assert (told["outlasts_supervision"], told["hours_unknown"]) == (True, None)  # a Monday, and a holiday
    listed = forbidden("-m", "watchdog.jobfile.commands", ring)
    assert (listed.returncode, listed.stderr) == (0, "")
