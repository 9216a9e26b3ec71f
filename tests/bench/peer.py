"""Against the strongest general-purpose planner of G-code on the package index, pyGCodeDecode (MIT).

    python -m tests.bench peer [--env FOLDER] [--megabytes 0.2] [--json]

It runs in an environment of its own: same file, same run, same model where both have it, which is junction deviation, one
acceleration, no look-ahead bound, no waits, a stop at moves of the filament alone. The peer's axis limits have no effect as
it is set up here, so ours are taken out too. Its deviation follows from a jerk of 8 mm/s as 0.414 * jerk² / acceleration. At
corners sharper than 162° it stops, and those flatter than 18° it passes at full speed; these files hold none where that tells.
The folder keeps the environment (about 0.6 GB) for the next run.

Goals: durations equal where the models are the same; at least 200 times its throughput with NumPy, 40 times in plain Python.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
import venv
from pathlib import Path
from typing import Any

from tests.bench.figures import Row, show
from tests.bench.jobfile import PIECE, shapes
from watchdog.jobfile.engine import Engine
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.plain import PlainEngine
from watchdog.jobfile.vector import VectorEngine

ACCELERATION, JERK = 1250.0, 8.0
WIDE = 1e6
CASES = {
    "trapezoid": ("G1 X100 F6000\n", 1.08),
    "triangle": ("G1 X5 F6000\n", 0.1265),
    "corner": ("G1 X50 F6000\nG1 Y50\n", 1.1503),
    "line in 20 pieces": ("".join(f"G1 X{5 * nth} F6000\n" for nth in range(1, 21)), 1.08),
}
_SETUP = f"""
bench:
  nozzle_diam: 0.4
  filament_diam: 1.75
  p_vel: 35
  p_acc: {ACCELERATION:g}
  jerk: {JERK:g}
  vX: {WIDE:g}
  vY: {WIDE:g}
  vZ: {WIDE:g}
  vE: {WIDE:g}
  firmware: junction_deviation
"""
_PEER = """
import json, sys, time
from pyGCodeDecode import gcode_interpreter
found = {}
for file in sys.argv[2:]:
    start = time.perf_counter()
    setup = gcode_interpreter.setup(presets_file=sys.argv[1], printer="bench", verbosity_level=0)
    setup.set_initial_position({"X": 0, "Y": 0, "Z": 0, "E": 0})
    run = gcode_interpreter.simulation(gcode_path=file, initial_machine_setup=setup, verbosity_level=0)
    found[file] = (run.blocklist[-1].get_segments()[-1].t_end, time.perf_counter() - start)
print("FOUND " + json.dumps(found))
"""


def main(words: list[str]) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench peer", description=__doc__.split("\n")[0])
    parser.add_argument("--env", type=Path, default=Path(tempfile.gettempdir()) / "emberward-bench-peer")
    parser.add_argument("--megabytes", type=float, default=0.2)
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args(words)
    python = asked.env / "bin" / "python"
    if not python.exists():
        venv.create(asked.env, with_pip=True)
        subprocess.run([python, "-m", "pip", "install", "-q", "pyGCodeDecode==1.5.1"], check=True)
    made = shapes()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder)
        (place / "setup.yaml").write_text(_SETUP)
        texts = {name: ("G21\nG90\nM82\n" + text).encode() for name, (text, _) in CASES.items()}
        texts |= {name: made.job_of(name, asked.megabytes) for name in ("vase", "lattice", "arcs", "mixed")}
        files = {name: place / f"{name.replace(' ', '-')}.gcode" for name in texts}
        for name, text in texts.items():
            files[name].write_bytes(text)
        theirs = _theirs(python, place / "setup.yaml", list(files.values()))
        rows = [_row(name, texts[name], *theirs[str(files[name])]) for name in texts]
    goals = (
        "durations equal where the models are the same",
        "vector_x at least 200, plain_x at least 40 times its speed",
    )
    show("peer", rows, goals, as_json=asked.json)


def _theirs(python: Path, setup: Path, files: list[Path]) -> dict[str, tuple[float, float]]:
    command = [str(python), "-c", _PEER, str(setup), *map(str, files)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    (found,) = [line for line in done.stdout.splitlines() if line.startswith("FOUND ")]
    answer: dict[str, tuple[float, float]] = json.loads(found.removeprefix("FOUND "))
    return answer


def _row(name: str, text: bytes, seconds: float, taken: float) -> Row:
    limits = MachineLimits(
        speed=(WIDE,) * 4,
        acceleration=(WIDE,) * 4,
        printing=ACCELERATION,
        travelling=ACCELERATION,
        retracting=ACCELERATION,
        deviation=0.414 * JERK * JERK / ACCELERATION,
        blocks=100_000,
        filament_alone_rests=True,
        feed=35.0,
    )
    plain, plain_taken = _ours(PlainEngine, limits, text)
    vector, vector_taken = _ours(VectorEngine, limits, text)
    return {
        "file": name,
        "kB": len(text) / 1000,
        "peer_s": seconds,
        "ours_s": plain,
        "difference_%": 100 * (plain - seconds) / seconds,
        "engines_apart": abs(vector - plain) / plain,
        "vector_x": taken / vector_taken,
        "plain_x": taken / plain_taken,
    }


def _ours(engine: type[Engine], limits: MachineLimits, text: bytes) -> tuple[float, float]:
    """Planned s of motion and dwell, and the best s of three that it took."""
    best, planned = float("inf"), 0.0
    for _ in range(3):
        start = time.perf_counter()
        running: Any = engine(limits)
        for at in range(0, len(text), PIECE):
            running.feed(text[at : at + PIECE])
        plan = running.finish()
        planned = plan.moving + sum(hold.seconds for hold in plan.holds if hold.kind == "dwell")
        best = min(best, time.perf_counter() - start)
    return planned, best


if __name__ == "__main__":
    main(sys.argv[1:])
