"""A simulated school year: who is told how often, and whether every promise of the routing was kept. From the project's folder:

    python -m tests.bench.year                              five years in each of two zones, as a Markdown table
    python -m tests.bench.year --years 20 --times 10        more of them, with everything ten times as often
    python -m tests.bench.year --output year.md

The alarms, the routing and the pace are the real ones; what goes wrong and how people answer is drawn from a seed. Exit status
1 when a promise was broken; each is named on stderr.
"""

import argparse
import sys
from pathlib import Path

from tests.bench.year.running import year
from tests.bench.year.school import ZONES
from tests.bench.year.sums import broken, summary, table


def main() -> int:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    arguments.add_argument("--years", type=int, default=5, help="in each zone")
    arguments.add_argument("--seed", type=int, default=1)
    arguments.add_argument("--times", type=float, default=1.0, help="by which every rate is multiplied")
    arguments.add_argument("--output", type=Path, help="write the table there instead")
    asked = arguments.parse_args()
    years = [year(zone, asked.seed + n, asked.times) for zone in ZONES for n in range(asked.years)]
    text = f"{summary(years)}\n\n{table(years)}\n"
    if asked.output is None:
        print(text, end="")
    else:
        asked.output.write_text(text, encoding="utf-8")
    faults = [fault for one in years for fault in broken(one)]
    for fault in faults:
        print(fault, file=sys.stderr)
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
