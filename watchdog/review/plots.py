"""The plots of a review as SVG that can stand in a page. Drawn by matplotlib in the command's own process.

Light and readable in grey: things differ by dash, marker and hatching, words stand beside them, no colour carries meaning.
"""

import re
from collections.abc import Callable, Mapping
from io import StringIO
from itertools import cycle
from typing import TYPE_CHECKING, Any, Final

from watchdog.review.figures import Review
from watchdog.review.parts.changes import USEFUL
from watchdog.review.sections.machine import charted
from watchdog.review.sections.shape import MOST_ROWS

if TYPE_CHECKING:
    from matplotlib.axes import Axes

INK, SOFT, GREY, PALE = "#1f1f1f", "#5a5a5a", "#8f8f8f", "#d9d9d9"
WIDTH: Final = 3.5  # inches: two stand side by side on A4, one on a phone
_MARKS, _DASHES = "os^Dv", ((1, 0), (4, 2), (1, 1.5), (6, 1, 1, 1))
_REFERENCES: Final = re.compile(r'(\bid="|href="#|url\(#)')
_STYLE: Final = {
    "svg.fonttype": "none",  # words stay words: they can be read out, searched, and printed in the page's own letters
    "svg.hashsalt": "review",  # the same figures give the same page
    "font.family": "sans-serif",
    "font.size": 8,
    "text.color": INK,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "hatch.linewidth": 0.6,
    "hatch.color": INK,
}


class NoPlots(Exception):
    """matplotlib is not installed: the page comes with its tables alone."""


def draw(review: Review) -> Mapping[str, str]:
    """SVG by the key of its picture, for those that the figures allow. Raises NoPlots."""
    try:
        import matplotlib
    except ImportError:
        raise NoPlots("no plots: matplotlib is not installed (pip install 'emberward[plots]')") from None
    wanted: dict[str, tuple[Callable[[Axes, Review], None], float]] = {}
    if review.losses.failed:
        wanted["causes"] = _causes, 0.7 + 0.22 * min(MOST_ROWS, len(review.losses.causes))
    if len(review.durations.ratios) > 1:
        wanted["ratios"] = _ratios, 2.1
    if charted(review):
        wanted["cusum"] = _cusum, 2.1
    if any(one.duane is not None for one in review.reliability):
        wanted["duane"] = _duane, 2.1
    if review.sheets.life is not None:
        wanted["sheets"] = _sheets, 2.1
    judged = min(MOST_ROWS, sum(one.useful.of > 0 for one in review.alarms.conditions))
    if judged:
        wanted["useful"] = _useful, 0.7 + 0.22 * judged
    with matplotlib.rc_context(_STYLE):  # type: ignore[arg-type]
        return {key: _svg(key, review, *how) for key, how in wanted.items()}


def _svg(key: str, review: Review, draw_on: "Callable[[Axes, Review], None]", height: float) -> str:
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH, height), layout="constrained")
    FigureCanvasSVG(figure)
    draw_on(figure.subplots(), review)
    written = StringIO()
    none: dict[str, Any] = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    figure.savefig(written, format="svg", metadata=none, transparent=True)
    return _for_a_page(key, written.getvalue())


def _for_a_page(key: str, document: str) -> str:
    """The drawing alone: no head of a file, no style for the whole page, names that occur once in a page of several."""
    drawing = document[document.index("<svg") :].strip()
    drawing = re.sub(r"<(metadata|style)\b.*?</\1>", "", drawing, flags=re.DOTALL)
    drawing = re.sub(r"\s+xmlns(:xlink)?=\"[^\"]*\"", "", drawing)
    drawing = _REFERENCES.sub(rf"\g<1>{key}-", drawing)
    return re.sub(r"<!--.*?-->\s*", "", drawing, flags=re.DOTALL)


def _causes(axes: "Axes", review: Review) -> None:
    shown = review.losses.causes[:MOST_ROWS][::-1]
    axes.barh(
        [loss.name for loss in shown], [loss.jobs.counted for loss in shown], color=PALE, edgecolor=INK, hatch="////"
    )
    axes.set_xlabel("failed jobs")
    axes.locator_params(axis="x", integer=True)


def _ratios(axes: "Axes", review: Review) -> None:
    ratios = review.durations.ratios
    axes.hist(ratios, bins=min(30, max(5, len(ratios) // 5)), color=PALE, edgecolor=INK, hatch="////")
    axes.axvline(1.0, color=INK, dashes=(4, 2), linewidth=1.2)
    axes.locator_params(axis="x", nbins=6)
    axes.set_xlabel("real / planned (dashed: as planned)")
    axes.set_ylabel("jobs")
    axes.locator_params(axis="y", integer=True)


def _cusum(axes: "Axes", review: Review) -> None:
    machines = charted(review)
    for one, dashes in zip(machines, cycle(_DASHES), strict=False):
        scale = one.cusum.chart.scale
        sums = [value / scale for value in one.cusum.sums]
        axes.step(range(1, len(sums) + 1), sums, where="post", color=INK, dashes=dashes, linewidth=1, label=one.machine)
    limit = machines[0].cusum.chart.limit / machines[0].cusum.chart.scale
    axes.axhline(limit, color=GREY, linewidth=3, label="limit", zorder=0)
    axes.set_ylim(bottom=0)
    axes.set_xlabel("judged jobs")
    axes.set_ylabel("sum (no unit)")
    axes.legend(frameon=False, loc="upper left", fontsize=7)


def _duane(axes: "Axes", review: Review) -> None:
    drawn = [one for one in review.reliability if one.duane is not None]
    for one, mark, dashes in zip(drawn, cycle(_MARKS), cycle(_DASHES), strict=False):
        hours = [seconds / 3600 for seconds in one.failures]
        so_far = [hour / nth for nth, hour in enumerate(hours, 1)]
        axes.plot(hours, so_far, mark, color=INK, markerfacecolor="none", markersize=5, label=one.machine)
        if one.duane is not None:
            line = [one.duane.cumulative(3600 * hour) / 3600 for hour in hours]
            axes.plot(hours, line, color=SOFT, dashes=dashes, linewidth=1)
    from matplotlib.ticker import LogLocator, NullFormatter

    axes.set_xscale("log")
    axes.set_yscale("log")
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        axis.set_major_formatter("{x:g}")
        axis.set_minor_formatter(NullFormatter())
    axes.set_xlabel("running time, h")
    axes.set_ylabel("time between, h")
    axes.legend(frameon=False, fontsize=7)


def _sheets(axes: "Axes", review: Review) -> None:
    steps = review.sheets.steps
    times = [0.0, *(step.time for step in steps)]
    lasting = [100.0, *(100 * step.survival for step in steps)]
    axes.step(times, lasting, where="post", color=INK, linewidth=1.4, label="estimate")
    for limit, label in (([step.low for step in steps], "95 % limits"), ([step.high for step in steps], None)):
        share = [100.0, *(100 * value for value in limit)]
        axes.step(times, share, where="post", color=SOFT, dashes=(2, 2), linewidth=1, label=label)
    axes.axhline(50, color=SOFT, linewidth=0.6)
    axes.set_ylim(0, 103)
    axes.set_xlabel("jobs borne")
    axes.set_ylabel("still in use, %")
    axes.legend(frameon=False, fontsize=7)


def _useful(axes: "Axes", review: Review) -> None:
    judged = [one for one in review.alarms.conditions if one.useful.of][:MOST_ROWS][::-1]
    for place, one in enumerate(judged):
        ends = [100 * (one.useful.low or 0.0), 100 * (one.useful.high or 0.0)]
        axes.plot(ends, [place, place], color=SOFT, linewidth=1.4)
        axes.plot([100 * (one.useful.share or 0.0)], [place], "o", color=INK, markersize=4.5)
    axes.axvline(100 * USEFUL, color=INK, dashes=(4, 2), linewidth=1)
    axes.set_yticks(range(len(judged)), [f"{one.alarm} ({one.useful.of})" for one in judged])
    axes.set_xlim(-2, 102)
    axes.set_xlabel("of use, % (dashed: 70 %)")
