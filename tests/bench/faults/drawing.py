"""Drawings of a run: the delays of each fault, and each condition's false alarms against its delay."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import matplotlib

matplotlib.use("svg")
matplotlib.rcParams["svg.hashsalt"] = "bench"  # the same figures give the same file
matplotlib.rcParams["svg.fonttype"] = "none"  # letters as text: a tenth of the size
from matplotlib import pyplot as plt  # noqa: E402
from matplotlib.figure import Figure  # noqa: E402

from tests.bench.faults.sums import share  # noqa: E402
from tests.bench.faults.writing import TradeRow  # noqa: E402


def draw_delays(delays: Mapping[str, Sequence[float]], path: Path) -> None:
    """Each fault's delays on a logarithmic axis: from the first to the last, the middle half, the median, and whatever lies
    beyond 95 %."""
    names = [name for name, found in sorted(delays.items(), reverse=True) if found]
    figure, axes = plt.subplots(figsize=(9, 0.24 * len(names) + 1.2))
    for place, name in enumerate(names):
        found = sorted(max(1.0, delay) for delay in delays[name])
        low, middle, high, most = (share(found, part) or 1.0 for part in (25, 50, 75, 95))
        beyond = [delay for delay in found if delay > most]
        axes.plot([found[0], most], [place, place], linewidth=1, color="tab:blue")
        axes.plot([low, high], [place, place], linewidth=5, color="tab:blue", alpha=0.6, solid_capstyle="butt")
        axes.plot(beyond, [place] * len(beyond), ".", markersize=3, color="tab:blue")
        axes.plot(middle, place, "|", markersize=9, color="black")
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
