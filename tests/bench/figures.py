"""Tables of figures, and what they are figures of."""

import json
import math
import os
import platform
from collections.abc import Iterable, Sequence
from typing import Any

Row = dict[str, Any]


def show(title: str, rows: Sequence[Row], goals: Sequence[str], *, as_json: bool) -> None:
    """Print `rows`: numbers to the right under their names, which carry the unit; or as one JSON object."""
    if as_json:
        print(json.dumps({"bench": title, "computer": computer(), "rows": list(rows), "goals": list(goals)}, indent=2))
        return
    print(f"{title}   ({computer()})\n")
    names = list(rows[0])
    cells = [names, *([_cell(row[name]) for name in names] for row in rows)]
    widths = [max(len(line[place]) for line in cells) for place in range(len(names))]
    for line in cells:
        first, *rest = (
            cell.ljust(width) if not place else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(line, widths, strict=True))
        )
        print("  ".join([first, *rest]).rstrip())
    print()
    for goal in goals:
        print(f"goal: {goal}")


def share(values: Iterable[float], of_hundred: float) -> float:
    """The value below which `of_hundred` % of `values` lie (nearest rank); nan when there are none."""
    ranked = sorted(values)
    if not ranked:
        return math.nan
    return ranked[max(0, math.ceil(len(ranked) * of_hundred / 100) - 1)]


def computer() -> str:
    """What the figures were taken on, and how busy it was."""
    return f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}, load {os.getloadavg()[0]:.1f}"


def _cell(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:,.0f}" if abs(value) >= 1000 else f"{value:.3g}" if abs(value) < 10 else f"{value:.1f}"
    return f"{value:,}" if isinstance(value, int) else str(value)
