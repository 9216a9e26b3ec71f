"""How fast job files are planned: both engines, on five shapes of job.

The same bytes' newlines are counted in the same run for scale: rates move with whatever else the computer does, their ratios
less. The child's time runs from its start to its plan; its memory is its largest.
"""

import argparse
import importlib.util
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from tests.bench.figures import Row, show
from watchdog.jobfile.engine import Engine
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.plain import PlainEngine
from watchdog.jobfile.planning import plan_file
from watchdog.jobfile.vector import VectorEngine

PIECE = 262_144
GOALS = (
    "vector_MB_per_s at least 30, vector_x at most 80 (times the newline count of the same bytes)",
    "plain_MB_per_s at least 6",
    "child_MB at most 64 whatever the size; child_s of a 20 MB file at most 0.7",
)
# A child's peak counts what its parent held when it forked, so a small process starts the child that is measured.
_PEAK = """
import resource, sys
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.planning import plan_file
plan_file(sys.argv[1], MachineLimits())
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)
"""


def main(words: list[str]) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench jobfile", description=__doc__.split("\n")[0])
    parser.add_argument("--megabytes", type=float, default=20.0, help="size of each file (default 20)")
    parser.add_argument("--rounds", type=int, default=3, help="the best of so many counts (default 3)")
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args(words)
    made = shapes()
    with tempfile.TemporaryDirectory() as folder:
        rows = [_measured(made, name, asked.megabytes, asked.rounds, Path(folder)) for name in made.SHAPES]
        small = Path(folder) / "small.gcode"
        small.write_bytes(b"G28\nG1 X10 F600\n")
        starts: list[Row] = [
            {"engine": name, "child_s": _best(partial(plan_file, small, MachineLimits(), engine=name), asked.rounds)}
            for name in ("plain", "vector")
        ]
    show("jobfile", rows, GOALS, as_json=asked.json)
    show("start and end of a child", starts, [], as_json=asked.json)


def _measured(made: Any, name: str, megabytes: float, rounds: int, folder: Path) -> Row:
    text: bytes = made.job_of(name, megabytes)
    lines = _best(lambda: text.count(b"\n"), 9)
    vector = _best(lambda: _planned(VectorEngine, text), rounds)
    plain = _best(lambda: _planned(PlainEngine, text), rounds)
    file = folder / f"{name}.gcode"
    file.write_bytes(text)
    start = time.perf_counter()
    plan = plan_file(file, MachineLimits())
    child = time.perf_counter() - start
    said = subprocess.run([sys.executable, "-c", _PEAK, str(file)], capture_output=True, text=True, check=True)
    file.unlink()
    size = len(text) / 1e6
    return {
        "shape": name,
        "newlines_MB_per_s": size / lines,
        "vector_MB_per_s": size / vector,
        "vector_x": vector / lines,
        "plain_MB_per_s": size / plain,
        "plain_x": plain / lines,
        "moves": plan.moves,
        "knots": len(plan.knots()),
        "child_s": child,
        "child_MB": float(said.stdout),
    }


def _planned(engine: type[Engine], text: bytes) -> None:
    running = engine(MachineLimits())
    for at in range(0, len(text), PIECE):
        running.feed(text[at : at + PIECE])
    running.finish()


def _best(work: Callable[[], object], rounds: int) -> float:
    """s of the quickest round."""
    taken = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def shapes() -> Any:
    """The job files of the tests, which are no package."""
    place = Path(__file__).parents[1] / "jobfile" / "conftest.py"
    spec = importlib.util.spec_from_file_location("job_shapes", place)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module
