"""Failures by cause and origin, and what they cost, in words."""

from collections.abc import Sequence
from typing import Final

from watchdog.review.figures import Review
from watchdog.review.parts.losses import Loss
from watchdog.review.sections.shape import MOST_ROWS, Picture, Section, Table, count, interval, percent, summed

ORIGIN_WORDS: Final = {"operator": "handling", "another": "another", "not said": "not said"}
"""what is shown for an origin where its own word could be read as blame"""
HEADS: Final = ("jobs", "share", "interval", "so far", "time", "filament")


def section(review: Review) -> Section:
    """What failed, and why."""
    lost = review.losses
    if not lost.failed:
        return Section("losses", "What failed, and what it cost", ("No job was called failed.",), ("share",))
    lines = [
        f"{count(lost.failed, 'job')} failed by people's word. Time from start to end: {summed(lost.seconds)}."
        f" Filament: {summed(lost.grams, 'g')}."
    ]
    if lost.filament_money is not None:
        lines.append(f"That filament cost {lost.filament_money:.2f} at the price that is set.")
    if lost.sheets:
        money = "" if lost.sheets_money is None else f", {lost.sheets_money:.2f} at the price that is set"
        lines.append(f"{count(lost.sheets, 'build surface')} came off worn{money}.")
    if len(lost.causes) > MOST_ROWS:
        rarer = count(len(lost.causes) - MOST_ROWS, "rarer cause")
        lines.append(f"Not in the table: {rarer}.")
    tables = (
        Table(f"By cause ({count(lost.failed, 'failed job')})", ("cause", *HEADS), _rows(lost.causes), "pareto"),
        Table(f"By origin ({count(lost.failed, 'failed job')})", ("origin", *HEADS), _rows(lost.origins), "pareto"),
    )
    top = ", ".join(f"{loss.name} {loss.jobs.counted}" for loss in lost.causes[:MOST_ROWS])
    picture = Picture(
        "causes", f"Failed jobs by cause, n = {lost.failed}", f"Bars of failed jobs by cause: {top}.", "pareto"
    )
    return Section("losses", "What failed, and what it cost", tuple(lines), ("share", "money"), tables, (picture,))


def _rows(losses: Sequence[Loss]) -> tuple[tuple[str, ...], ...]:
    return tuple(
        (
            ORIGIN_WORDS.get(loss.name, loss.name),
            str(loss.jobs.counted),
            percent(loss.jobs.share, loss.jobs.of),
            interval(loss.jobs),
            percent(loss.cumulative, loss.jobs.of),
            summed(loss.seconds),
            summed(loss.grams, "g"),
        )
        for loss in losses[:MOST_ROWS]
    )
