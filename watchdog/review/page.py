"""The review as one self-contained printable page of HTML."""

from collections.abc import Mapping

from jinja2 import Environment, StrictUndefined

from watchdog.review.report import ADVISORY, Report
from watchdog.review.sections.notes import NOTES
from watchdog.review.sections.shape import together
from watchdog.review.sheet import HOW, STYLE, TEMPLATE


def page(report: Report, plots: Mapping[str, str], without: str = "") -> str:
    """The whole document. `plots`: SVG by the key of its picture, as `plots.draw` gives them; a picture that is not there is
    left out, and `without` says why."""
    pages = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    pages.filters["together"] = together
    numbers = {key: number for number, key in enumerate(NOTES, 1)}
    return pages.from_string(HOW + TEMPLATE).render(
        report=report, plots=plots, without=without, notes=NOTES, numbers=numbers, advisory=ADVISORY, style=STYLE
    )
