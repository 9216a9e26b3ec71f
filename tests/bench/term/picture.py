"""The review's first page and main plots as one light SVG, for the README."""

import re
from datetime import timedelta
from html import escape
from pathlib import Path
from textwrap import wrap

from tests.bench.term import house
from tests.bench.term.running import RECORD
from watchdog.record.reader import Reader
from watchdog.review.figures import Review, figures
from watchdog.review.plots import draw
from watchdog.review.recorded import recorded
from watchdog.review.report import report
from watchdog.settings.house import house_of
from watchdog.settings.load import load

WIDTH = 860
_MARGIN, _LINE, _COLUMN = 28, 20, 396
_PLOTS = ("causes", "useful", "ratios", "sheets")
"""the most that are drawn, two in a row"""
_SIZE = re.compile(r'<svg\b[^>]*?viewBox="0 0 ([\d.]+) ([\d.]+)"[^>]*>')


def reviewed(folder: Path, weeks: int) -> Review:
    """The figures of the whole term."""
    settings = house_of(load(folder / "emberward.toml", addresses="not needed"))
    since, until = house.stamp(house.FIRST, 0), house.stamp(house.days(weeks)[-1] + timedelta(days=1), 0)
    with Reader.read(folder / RECORD) as record, record.one_moment():
        return figures(recorded(record, since, until, settings), since, until, settings)


def picture(review: Review) -> str:
    """The drawing; the words are the review's own."""
    told = report(review)
    texts, y = [_text(told.title, _MARGIN, 44, 24, bold=True), _text(told.term, _MARGIN, 68, 14)], 100
    for sentence in (*told.sentences, *(f"To change: {line}" for line in told.change.lines)):
        for nth, line in enumerate(wrap(sentence, 112)):
            texts.append(_text(line, _MARGIN + (10 if nth else 0), y, 14))
            y += _LINE
        y += 4
    plots = draw(review)
    drawn, heights = [], [0.0]
    for nth, key in enumerate(key for key in _PLOTS if key in plots):
        left = _MARGIN + nth % 2 * (_COLUMN + 12)
        if nth % 2 == 0:
            y += round(heights[-1]) + 6 if nth else 6
            heights.append(0.0)
        placed, height = _placed(plots[key], left, y)
        heights[-1] = max(heights[-1], height)
        drawn.append(placed)
    whole = y + round(heights[-1]) + _MARGIN // 2
    return "\n".join(
        (
            f'<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" width="{WIDTH}"'
            f' height="{whole}" viewBox="0 0 {WIDTH} {whole}" font-family="sans-serif">',
            f'<rect width="{WIDTH}" height="{whole}" fill="#ffffff"/>',
            *texts,
            *drawn,
            "</svg>\n",
        )
    )


def _text(words: str, x: int, y: int, size: int, *, bold: bool = False) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return f'<text x="{x}" y="{y}" font-size="{size}" fill="#1f1f1f"{weight}>{escape(words)}</text>'


def _placed(drawing: str, x: int, y: int) -> tuple[str, float]:
    """A plot as part of the drawing, and how high it stands there."""
    size = _SIZE.search(drawing)
    if size is None:
        raise ValueError("a plot without its size")
    width, height = float(size[1]), float(size[2])
    stands = height * _COLUMN / width
    head = f'<svg x="{x}" y="{y}" width="{_COLUMN}" height="{stands:.0f}" viewBox="0 0 {width} {height}">'
    return drawing.replace(size[0], head, 1), stands
