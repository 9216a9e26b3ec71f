"""A whole term: each machine in a process of its own, then everything into one record in the order of time."""

import multiprocessing
import sys
import time
from functools import partial
from heapq import merge
from pathlib import Path
from typing import Any

from tests.bench.term import house, truth
from tests.bench.term.entries import Entry, when
from tests.bench.term.people import People
from tests.bench.term.truth import Truth
from tests.bench.term.writing import put

MACHINES = (house.DOORWAY, house.LOFT)
RECORD, TRUTH = "incidents.db", "truth.json"


def lived(name: str, furnished: house.House, weeks: int, seed: int, busy: float) -> tuple[list[Entry], Truth]:
    """One machine's term: what goes into the record, and what really happened."""
    people = People(name, furnished, weeks, seed, busy)
    began = time.monotonic()

    def tell(share: float) -> None:
        print(f"{name}: {100 * share:3.0f} %, {time.monotonic() - began:.0f} s", file=sys.stderr, flush=True)

    told = people.live(tell)
    return people.stand.entries, told


def term(folder: Path, weeks: int = 14, seed: int = 1, busy: float = 1.0, processes: int = 2) -> dict[str, Any]:
    """Live a term and write it into `folder`; the ground truth. An earlier term there is left alone: FileExistsError."""
    if (folder / RECORD).exists():
        raise FileExistsError(f"{folder / RECORD} is there already; name another folder")
    one = partial(lived, furnished=house.furnish(folder), weeks=weeks, seed=seed, busy=busy)
    if processes > 1:
        with multiprocessing.get_context("spawn").Pool(processes) as pool:
            parts = pool.map(one, MACHINES)
    else:
        parts = [one(name) for name in MACHINES]
    put(folder / RECORD, merge(*(sorted(entries, key=when) for entries, _ in parts), key=when), seed)
    told = truth.together(seed, weeks, tuple(part for _, part in parts))
    truth.write(folder / TRUTH, told)
    return told
