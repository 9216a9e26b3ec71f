"""A simulated term: two machines, people, and what goes wrong, into a real incident log. From the project's folder:

    python -m tests.bench.term --out DIR                 14 weeks from 14 September to 18 December 2026
    python -m tests.bench.term --out DIR --weeks 1 --seed 7
    python -m tests.bench.term --out DIR --picture tests/bench/term/review.svg      the picture of the README

DIR then holds incidents.db, emberward.toml (settings for it), truth.json (what was drawn and what really happened), the
job files and the calendars. Then, for example:

    emberward review --config DIR/emberward.toml --from 2026-09-14 --to 2026-12-18 --html DIR/review.html

Machines, core, routing and register are the real ones; what goes wrong and what people do is drawn from the seed. Exit status
1 when the record does not agree with what really happened; each difference is named on stderr.
"""

import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from tests.bench.term.judged import judged
from tests.bench.term.picture import picture, reviewed
from tests.bench.term.running import RECORD, term


def main() -> int:
    """Live the term, then hold the record against what happened."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--out", type=Path, required=True, metavar="DIR", help="a folder without a record")
    parser.add_argument("--weeks", type=int, default=14)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--picture", type=Path, metavar="FILE", help="draw the review's first page as SVG")
    asked = parser.parse_args()
    began = time.monotonic()
    try:
        truth = term(asked.out, asked.weeks, asked.seed)
    except FileExistsError as there:
        print(there, file=sys.stderr)
        return 2
    found = judged(asked.out / RECORD, truth)
    failed = sum(job["failed"] for job in truth["jobs"])
    print(f"{asked.weeks} weeks in {time.monotonic() - began:.0f} s, seed {asked.seed}")
    print(f"jobs: {len(truth['jobs'])}, of which {failed} failed; in the record {found.jobs}")
    print(
        f"incidents: {_counted(one['name'] for one in truth['incidents'])}; refused by check: {len(truth['refused'])}"
    )
    print(f"alarms that belong to one: {len(found.right)} ({_counted(alarm.alarm for alarm in found.right)})")
    print(f"alarms that belong to none: {len(found.wrong)} ({_counted(alarm.alarm for alarm in found.wrong)})")
    print(f"streams cut off: {found.stopped[0]}, called completed by the register: {found.stopped[1]}")
    print(f"messages: {found.messages}; spools {truth['spools']}, sheets {truth['sheets']}")
    if asked.picture is not None:
        asked.picture.write_text(picture(reviewed(asked.out, asked.weeks)), encoding="utf-8")
    for fault in found.faults:
        print(fault, file=sys.stderr)
    return 1 if found.faults else 0


def _counted(names: Iterable[str]) -> str:
    return ", ".join(f"{name} {times}" for name, times in Counter(names).most_common())


if __name__ == "__main__":
    sys.exit(main())
