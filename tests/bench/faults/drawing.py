"""Drawings of a run: the delays of each fault, and each condition's false alarms against its delay."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import matplotlib

matplotlib.use("svg")
matplotlib.rcParams["svg.hashsalt"] = "bench"  # the same figures give the same file
from matplotlib import pyplot as plt  # noqa: E402
from matplotlib.figure import Figure  # noqa: E402

from tests.bench.faults.writing import TradeRow  # noqa: E402


def draw_delays(delays: Mapping[str, Sequence[float]], path: Path) -> None:
    """A dot a recording on a logarithmic axis, and a bar at the median."""
    names = [name for name, found in sorted(delays.items(), reverse=True) if found]
    figure, axes = plt.subplots(figsize=(9, 0.32 * len(names) + 1.2))
    for place, name in enumerate(names):
        found = sorted(max(1.0, delay) for delay in delays[name])
        axes.plot(found, [place] * len(found), ".", alpha=0.35, color="tab:blue")
        axes.plot(found[(len(found) - 1) // 2], place, "|", markersize=14, color="black")
    axes.set_xscale("log")
    axes.set_yticks(range(len(names)), names)
    axes.set_xlabel("s from the onset to the right alarm (1 s and less at 1)")
    axes.grid(axis="x", alpha=0.3)
    _save(figure, path)


def draw_trades(rows: Sequence[TradeRow], path: Path) -> None:
    """One panel a condition: median delay against false alarms, each point with its limit."""
    alarms = sorted({row.alarm for row in rows})
    figure, every = plt.subplots((len(alarms) + 2) // 3, 3, figsize=(11, 3.2 * ((len(alarms) + 2) // 3)), squeeze=False)
    for alarm, axes in zip(alarms, every.flat, strict=False):
        points = [row for row in rows if row.alarm == alarm and row.delay_median is not None]
        axes.plot([row.delay_median for row in points], [row.false_per_1000_h for row in points], "o-")
        for row in points:
            axes.annotate(f"{row.value:g}", (row.delay_median or 0.0, row.false_per_1000_h))
        axes.set_title(f"{alarm}: {points[0].limit}, {points[0].unit}" if points else alarm, fontsize=9)
        axes.set_xlabel("median delay, s", fontsize=8)
        axes.set_ylabel("false alarms per 1,000 h", fontsize=8)
    _save(figure, path)


def _save(figure: Figure, path: Path) -> None:
    figure.tight_layout()
    figure.savefig(path, metadata={"Date": None})
    plt.close(figure)
