"""One incident as an SVG: heat, progress against plan, and what was told when.

Drawn by matplotlib, in the command's own process; the service never loads it. Light, readable in grey: lines differ by dash and
by their label, marks by their letter. The file refers to nothing outside itself.
"""

import io
import re
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from watchdog.cli.charts import Mark, Point
from watchdog.cli.common import FOUND_WRONG, Stop
from watchdog.cli.timeline import LETTERS, Curves

INK, SOFT = "#1f1f1f", "#767676"
_WHOLE, _DASHED = (1, 0), (5, 2)
_APART = 0.03  # of the whole time: closer, letters cannot be told apart
_OUTSIDE = re.compile(r"<!DOCTYPE.*?>\s*|<metadata>.*?</metadata>\s*", re.DOTALL)  # names of documents elsewhere


def draw(title: str, seen: Curves, zone: ZoneInfo, place: Path) -> None:
    """Write the picture to `place`. Raises Stop without matplotlib, or when it cannot be written."""
    try:
        import matplotlib
    except ImportError:
        raise Stop(FOUND_WRONG, "--svg needs matplotlib: pip install 'emberward[plots]'") from None
    matplotlib.use("Agg")
    matplotlib.rcParams["svg.hashsalt"] = "emberward"  # the same incident gives the same file
    matplotlib.rcParams["svg.fonttype"] = "none"  # words stay words
    from matplotlib.figure import Figure

    panels = [("nozzle, °C", "reading", seen.nozzle, "target", seen.nozzle_target)]
    if _known(seen.bed):
        panels.append(("bed, °C", "reading", seen.bed, "target", seen.bed_target))
    if _known(seen.progress):
        panels.append(("file read, %", "read", seen.progress, f"planned {seen.planned_by}", seen.planned))
    figure = Figure(figsize=(9, 1.4 + 1.7 * len(panels)), layout="constrained", facecolor="white")
    grid = figure.subplots(len(panels), 1, sharex=True, squeeze=False)[:, 0]
    for axes, (name, what, points, goal, goals) in zip(grid, panels, strict=True):
        _curve(axes, seen.since, points, INK, _WHOLE, what)
        if _known(goals):
            _curve(axes, seen.since, goals, SOFT, _DASHED, goal)
        if not _known(points):
            axes.text(0.5, 0.5, "not known", transform=axes.transAxes, ha="center", color=SOFT)
        axes.set_ylabel(name)
        axes.spines[["top", "right"]].set_visible(False)
        axes.margins(x=0)
        if _known(points):
            axes.legend(loc="best", frameon=False, fontsize=8)
        for mark in seen.marks:
            axes.axvline((mark.at - seen.since) / 60, color=SOFT, linewidth=0.8, dashes=(1, 2))
    for at, letters in lettered(seen.marks, _APART * (seen.until - seen.since)):
        grid[0].annotate(
            letters,
            ((at - seen.since) / 60, 1.0),
            xycoords=("data", "axes fraction"),
            va="bottom",
            ha="center",
            fontsize=8,
            color=INK,
        )
    grid[0].set_title(f"{title}\n", loc="left", fontsize=10)
    began = datetime.fromtimestamp(seen.since, zone)
    grid[-1].set_xlabel(f"minutes after {began:%Y-%m-%d %H:%M:%S} ({zone.key})     {LETTERS}", fontsize=8)
    kept = io.StringIO()
    figure.savefig(kept, format="svg", metadata={"Date": None})
    try:
        place.write_text(_OUTSIDE.sub("", kept.getvalue()), encoding="utf-8")
    except OSError as trouble:
        raise Stop(FOUND_WRONG, f"{place}: {trouble.strerror or trouble}. Name another file.") from None


def lettered(marks: Sequence[Mark], apart: float) -> Iterator[tuple[float, str]]:
    """Marks with their letters; those that lie closer than `apart`, in s, stand in one, in their order."""
    since, at, letters = float("-inf"), 0.0, ""
    for mark in marks:
        if letters and mark.at - since < apart:
            at = (since + mark.at) / 2
            letters += mark.letter if mark.letter not in letters else ""
            continue
        if letters:
            yield at, letters
        since = at = mark.at
        letters = mark.letter
    if letters:
        yield at, letters


def _known(points: Sequence[Point]) -> bool:
    return any(value is not None for _, value in points)


def _curve(axes: Any, since: float, points: Sequence[Point], colour: str, dashes: tuple[int, int], label: str) -> None:
    """What is not known leaves a gap."""
    minutes = [(at - since) / 60 for at, _ in points]
    values = [float("nan") if value is None else value for _, value in points]
    axes.plot(minutes, values, color=colour, dashes=dashes, linewidth=1.3, label=label)
