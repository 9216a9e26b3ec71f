"""The figures of this project, measured where it stands. Run from the project's folder:

    python -m tests.bench replay       lines a second on one core through everything that judges them
    python -m tests.bench latency      from the line that completes a condition to the message handed to its route
    python -m tests.bench footprint    memory and processor share of `watch` for 1, 10 and 50 machines
    python -m tests.bench jobfile      MB a second of job files planned, and what the planning child takes
    python -m tests.bench peer         durations and speed beside the strongest general-purpose planner of the package index

`python -m tests.bench.district` lets 200 services meet one broker. `python -m tests.bench.faults` measures something else: how
often the watch is right.

`--json` prints the same figures for a script, `--help` the parameters. Nothing here asserts a time: a busy computer would
make it lie. Each table names its goal; run it on a quiet computer before believing a miss.
"""

import sys

from tests.bench import footprint, jobfile, latency, peer, replay

BENCHES = {
    "replay": replay.main,
    "latency": latency.main,
    "footprint": footprint.main,
    "jobfile": jobfile.main,
    "peer": peer.main,
}


def main() -> int:
    if len(sys.argv) < 2 or sys.argv[1] not in BENCHES:
        print(__doc__, file=sys.stderr)
        return 0 if sys.argv[1:2] in (["-h"], ["--help"]) else 2
    BENCHES[sys.argv[1]](sys.argv[2:])
    return 0


if __name__ == "__main__":
    sys.exit(main())
