"""The child process: bounded, honest about files that are no job, and alone with NumPy."""

import os
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from watchdog.jobfile.errand import Errand, PlanTrouble, errand_from_json
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.planning import plan_file
from watchdog.jobfile.rules import Rules

Run = Callable[..., Any]
Shape = Callable[[str, float], bytes]

LIMITS = MachineLimits(speed=(150, 150, 10, 60), deviation=None)
RULES = Rules(nozzle=(190, 220), bounds=((0, 300), (0, 300), (0, 300)))


@pytest.mark.parametrize("engine", ["plain", "vector", None])
def test_the_child_makes_the_plan_that_the_engine_makes(
    tmp_path: Path, run: Run, shape: Shape, engine: str | None
) -> None:
    text = shape("mixed", 0.2)
    file = tmp_path / "cup with handle.gcode"
    file.write_bytes(text)
    plan = plan_file(file, LIMITS, rules=RULES, engine=engine)
    assert plan == run(engine or "plain", text, LIMITS, rules=RULES).plan


def test_progress_is_told_on_a_long_file(tmp_path: Path, shape: Shape) -> None:
    file = tmp_path / "long.gcode"
    file.write_bytes(b"; words only, which read fast\n" * 400_000)
    told: list[tuple[int, int]] = []
    plan = plan_file(file, LIMITS, lambda done, whole: told.append((done, whole)))
    assert len(told) >= 2
    assert [done for done, _ in told] == sorted(done for done, _ in told)
    assert {whole for _, whole in told} == {plan.size}


def test_faults_carry_their_line(tmp_path: Path) -> None:
    file = tmp_path / "hot.gcode"
    file.write_text("G28\nM109 S260\n\nG1 X900 F600\nM104 S0\n")
    plan = plan_file(file, LIMITS, rules=RULES)
    assert [(fault.name, fault.line) for fault in plan.faults] == [("nozzle-outside-window", 2), ("outside-machine", 4)]


def _enlarge(place: Path) -> None:
    place.touch()
    os.truncate(place, 5 * 2**30)


@pytest.mark.parametrize(
    ("kind", "make"),
    [
        ("unreadable", lambda place: None),
        ("unreadable", lambda place: place.mkdir()),
        ("unreadable", lambda place: os.mkfifo(place)),
        ("too-large", _enlarge),
    ],
    ids=["missing", "folder", "pipe", "too large"],
)
def test_what_is_no_job_file_is_said_to_be_none(tmp_path: Path, kind: str, make: Callable[[Path], object]) -> None:
    make(tmp_path / "job.gcode")
    with pytest.raises(PlanTrouble) as trouble:
        plan_file(tmp_path / "job.gcode", LIMITS)
    assert trouble.value.kind == kind
    assert str(trouble.value)


def test_a_file_that_still_grows_is_said_to_grow(tmp_path: Path) -> None:
    """A plan of the first half of a job would call the whole of it late."""
    file = tmp_path / "arriving.gcode"
    file.write_bytes(b"; words only, which read fast\n" * 400_000)
    told = threading.Event()

    def grow(done: int, whole: int) -> None:
        if not told.is_set():
            told.set()
            with file.open("ab") as more:
                more.write(b"G1 X10\n")

    with pytest.raises(PlanTrouble) as trouble:
        plan_file(file, LIMITS, grow)
    assert told.is_set()
    assert trouble.value.kind == "still-being-written"


def test_a_child_that_takes_too_long_is_given_up(tmp_path: Path) -> None:
    file = tmp_path / "endless.gcode"
    file.touch()
    os.truncate(file, 3 * 2**30)
    with pytest.raises(PlanTrouble) as trouble:
        plan_file(file, LIMITS, seconds=0.3)
    assert trouble.value.kind == "out-of-time"


def test_a_child_without_memory_says_so_or_ends(tmp_path: Path) -> None:
    """Run by hand, since the bound is not for callers to choose."""
    file = tmp_path / "job.gcode"
    file.write_bytes(b"G1 X1\n" * 300_000)
    errand = Errand(LIMITS, RULES, "vector", memory=64 * 2**20).to_json()
    command = [sys.executable, "-m", "watchdog.jobfile.worker", str(file)]
    ended = subprocess.run(command, input=errand.encode() + b"\n", capture_output=True, timeout=60, check=False)
    assert ended.returncode != 0
    assert not ended.stdout.startswith(b"plan")


_PEAK = """
import resource, sys
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.planning import plan_file
plan = plan_file(sys.argv[1], MachineLimits(), engine=sys.argv[2])
print(plan.size, plan.odd, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""


@pytest.mark.parametrize(
    "make",
    [
        lambda shape, file: os.truncate(file, 100 * 2**20),
        lambda shape, file: file.write_bytes(b"\x00\x01G1 X\xff\n" * 500_000),
        lambda shape, file: file.write_bytes(shape("arcs", 3) * 8),
        lambda shape, file: file.write_bytes(shape("lattice", 3) * 8),
        lambda shape, file: file.write_bytes(b"G1 X50 Y50 F6000\nG2 X60 Y50 I5 J0\n" * 20_000),
        lambda shape, file: file.write_bytes(b"G2 I900 P99\n" * 40),
    ],
    ids=["100 MB of zeros", "binary rubbish", "24 MB of tiny moves", "24 MB of long moves", "arcs", "great arcs"],
)
@pytest.mark.parametrize("engine", ["plain", "vector"])
def test_memory_does_not_grow_with_the_file(
    tmp_path: Path, shape: Shape, engine: str, make: Callable[..., object]
) -> None:
    """The watch must not be pushed out of a small computer's memory by a file."""
    file = tmp_path / "job.gcode"
    file.touch()
    make(shape, file)
    said = subprocess.run([sys.executable, "-c", _PEAK, str(file), engine], capture_output=True, text=True, timeout=110)
    size, _, peak = map(int, said.stdout.split())
    assert size == file.stat().st_size
    assert peak <= 64 * 1024  # KB


def test_the_service_side_never_imports_numpy_nor_an_engine(tmp_path: Path) -> None:
    """NumPy would double the memory of a watch that runs for years."""
    file = tmp_path / "job.gcode"
    file.write_text("G1 X10 F600\n")
    program = (
        "import sys\nfrom watchdog.jobfile.machine_limits import MachineLimits\n"
        "from watchdog.jobfile.planning import plan_file\n"
        "plan_file(sys.argv[1], MachineLimits())\n"
        "print([name for name in sys.modules if name in ('numpy', 'watchdog.jobfile.vector', 'watchdog.jobfile.plain')])"
    )
    said = subprocess.run(
        [sys.executable, "-c", program, str(file)], capture_output=True, text=True, timeout=60, check=True
    )
    assert said.stdout.strip() == "[]"


def test_an_errand_travels_whole() -> None:
    errand = Errand(LIMITS, RULES, "plain")
    assert errand_from_json(errand.to_json()) == errand
    assert errand.fingerprint() == Errand(LIMITS, RULES, "vector").fingerprint()
    assert errand.fingerprint() != Errand(MachineLimits(), RULES).fingerprint()
