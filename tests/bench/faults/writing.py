"""The figures as CSV and as Markdown."""

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from tests.bench.faults.main_limits import MainLimit
from tests.bench.faults.sums import WORTH, FaultRow, HealthyRow, Load, YearRow, row_facts


class TradeRow(NamedTuple):
    """A condition with one value of its main limit, on the tuning seeds."""

    alarm: str
    limit: str
    value: float
    unit: str
    detected: int
    trials: int
    delay_median: float | None
    delay_p95: float | None
    false_per_1000_h: float
    upper: float


class Report(NamedTuple):
    """Everything that a run came to."""

    command: str
    seeds: str
    """which seeds were tuned on, which are reported"""
    faults: list[FaultRow]
    healthy: list[HealthyRow]
    load: Load
    year: list[YearRow]
    trades: list[TradeRow]
    limits: list[MainLimit]
    notes: tuple[str, ...] = ()


def write_csv(report: Report, folder: Path) -> None:
    """`faults.csv`, a row a case; `year.csv`, a row an alarm in a school year; `limits.csv`, a row an alarm's main limit."""
    _rows(folder / "faults.csv", FaultRow._fields, [row_facts(row) for row in report.faults])
    year = [{**row._asdict(), "below_70_percent": row.below} for row in report.year]
    _rows(folder / "year.csv", (*YearRow._fields, "below_70_percent"), year)
    limits = [{**row._asdict(), "tried": " ".join(f"{value:g}" for value in row.tried)} for row in report.limits]
    _rows(folder / "limits.csv", MainLimit._fields, limits)


def _rows(path: Path, heads: Sequence[str], rows: Sequence[Mapping[str, Any]]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, heads)
        writer.writeheader()
        writer.writerows(rows)


def markdown(report: Report) -> str:
    """The whole report."""
    parts = [
        f"Command: `{report.command}`\n\n{report.seeds}\n\n" + "".join(f"{note}\n\n" for note in report.notes),
        "### Faults\n\nk of n: the right alarm came in time; interval: Clopper-Pearson, 95 %. Delays in s from the onset to "
        "the right alarm, early or late. Nobody acknowledges anything: an alarm that stands from before the fault is not "
        "raised again, so it does not count. Messages: first ones, a recording; grown: further ones, that this incident has "
        "become urgent. Wrong alarms are counted from the recording's beginning on.\n\n",
        _table(
            ("fault", "sign on the wire", "right alarm", "due, s", "in time", "95 %", "late", "median", "p95", "max",
             "first is right", "messages", "grown", "wrong alarms (recordings)"),
            [_fault(row) for row in report.faults],
        ),
        "\n### Healthy running\n\nFalse alarms for each 1,000 machine-hours; Poisson intervals.\n\n",
        _table(
            ("", "hours", "alarms", "per 1,000 h", "95 %", "upper bound, one-sided 95 %"),
            [_healthy(row) for row in report.healthy],
        ),
        f"\n{_load(report.load)}\n",
        "\n### A school year\n\n400 jobs at 99 % (four failed jobs, shared evenly among the faults of a job), eight lapses of "
        "people (assumed, no source; shared in the same way), 650 machine-hours.\n\n",
        _table(
            ("alarm", "incidents", "told rightly", "told wrongly", "share right", "interval", "wrong, upper bound",
             "Share right below 70 %"),
            [_year(row) for row in report.year],
        ),
        f"\n{_silent(report.year)}\n",
        "\n### Trade-off\n\nOn the tuning seeds; no default was changed on them. All conditions "
        "change together, so one may suppress another; a limit longer than the recording finds nothing.\n\n"
        if report.trades else "",
        _table(
            ("alarm", "limit", "detected", "median, s", "p95, s", "false per 1,000 h", "upper bound"),
            [_trade(row) for row in report.trades],
        )
        if report.trades
        else "",
        "\n### Main limits\n\nThe limit of each alarm that trades false alarms for delay most directly. The values tried "
        "are those of the trade-off, on the tuning seeds; what is reported uses the defaults, on the reported seeds.\n\n",
        _table(
            ("alarm", "main limit", "default", "tried", "case"),
            [_main(row) for row in report.limits],
        ),
    ]  # fmt: skip
    return "".join(parts)


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "".join(f"| {' | '.join(line)} |\n" for line in lines)


def _fault(row: FaultRow) -> tuple[str, ...]:
    wrong = ", ".join(f"{name} ({count})" for name, count in row.wrong)
    if not row.right:
        middle = ("nobody is to come", "", "", "", "", "", "", "", "")
    else:
        first = f"{row.first_right} of {row.with_alarm}" if row.with_alarm else "none came"
        middle = (
            " or ".join(row.right),
            f"{row.must_by:.0f}",
            f"{row.detected} of {row.trials}",
            f"{100 * row.low:.0f}–{100 * row.high:.0f} %",
            str(row.late),
            _s(row.delay_median),
            _s(row.delay_p95),
            _s(row.delay_max),
            first,
        )
    struck = f"{row.fault} ({row.not_struck} not struck)" if row.not_struck else row.fault
    return (struck, row.shows, *middle, f"{row.annunciations:.2f}", f"{row.grown:.2f}", wrong)


def _healthy(row: HealthyRow) -> tuple[str, ...]:
    return (
        row.what,
        f"{row.hours:,.0f}",
        str(row.alarms),
        f"{row.per_1000_h:.2f}",
        f"{row.low:.2f}–{row.high:.2f}",
        f"{row.upper:.2f}",
    )


def _load(load: Load) -> str:
    split = (
        ", ".join(f"{name} {100 * part:.0f} %" for name, part in load.split.items())
        if load.split is not None
        else "fewer than 100 annunciations, so none is shown"
    )
    return (
        f"Annunciations in {load.shifts:.0f} shifts of 8 h: {load.annunciations}, {load.a_shift:.3f} a shift. Recordings "
        f"with a flood: {load.floods}; with a chattering alarm: {load.chattering}; alarms that stood at a recording's end: "
        f"{load.standing} (stale, a day, is longer than a recording). Priorities: {split}.\n"
    )


def _year(row: YearRow) -> tuple[str, ...]:
    return (
        row.alarm,
        f"{row.incidents:.2f}",
        f"{row.right:.2f}",
        f"{row.wrong:.2f}",
        "–" if row.share is None else f"{100 * row.share:.0f} %",
        f"{100 * row.low:.0f}–{100 * row.high:.0f} %",
        f"{row.wrong_upper:.2f}",
        "cannot tell" if row.below is None else f"yes: {100 * (row.share or 0.0):.0f} %" if row.below else "no",
    )


def _silent(rows: Sequence[YearRow]) -> str:
    """Which conditions would not speak by default."""
    below = [f"{row.alarm} ({100 * (row.share or 0.0):.0f} %)" for row in rows if row.below]
    named = ", ".join(below) if below else "none"
    return f"Below {100 * WORTH:.0f} % of right alarms, and so not to speak by default unless urgent: {named}.\n"


def _main(row: MainLimit) -> tuple[str, ...]:
    if row.limit is None or row.default is None:
        return (row.alarm, "none: the machine's own word", "", "", "")
    tried = " ".join(f"{value:g}" for value in row.tried) or "no curve"
    return (row.alarm, row.limit, f"{row.default:g} {row.unit}", tried, row.fault)


def _trade(row: TradeRow) -> tuple[str, ...]:
    return (
        row.alarm,
        f"{row.limit} = {row.value:g} {row.unit}",
        f"{row.detected} of {row.trials}",
        _s(row.delay_median),
        _s(row.delay_p95),
        f"{row.false_per_1000_h:.1f}",
        f"{row.upper:.1f}",
    )


def _s(value: float | None) -> str:
    return "–" if value is None else f"{value:.0f}"
