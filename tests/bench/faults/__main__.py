"""How often the watch is right, how soon, and how often it cries wolf: measured against machines whose truth is known.

    python -m tests.bench.faults --seeds 100 --hours 2000 --out DIR

Makes recordings of simulated machines, each with one fault or with none, and lets the watch's own core judge them with the
default settings. Writes `faults.csv`, `year.csv`, `limits.csv`,
`faults.md`, `delays.svg` and `trade-off.svg` into DIR; progress goes to stderr. The
same seeds give the same figures.
"""

import argparse
import datetime
from collections.abc import Sequence
from pathlib import Path

from tests.bench.faults.cases import CASES, Case
from tests.bench.faults.main_limits import main_limits
from tests.bench.faults.outcome import Outcome
from tests.bench.faults.running import HEALTHY, REPORTING, TRADES, TRIES, TUNING, carried_out, reported, tuning
from tests.bench.faults.sums import delay, fault_row, healthy_rows, load, rate_row, share, year_rows
from tests.bench.faults.writing import Report, TradeRow, markdown, write_csv


def summed(cases: Sequence[Case], outcomes: Sequence[Outcome], tried: Sequence[Sequence[Outcome]]) -> Report:
    """The figures of all outcomes; `tried` are those of the tuning seeds, a list for each value of the limits."""
    rows = {case.name: row for case in cases if (row := fault_row(case, outcomes)) is not None}
    days = [outcome for outcome in outcomes if not outcome.fault]
    return Report(
        "",
        "",
        list(rows.values()),
        healthy_rows(days),
        load(days),
        year_rows(cases, rows, days),
        trade_rows(tried),
        main_limits(),
    )


def trade_rows(tried: Sequence[Sequence[Outcome]]) -> list[TradeRow]:
    """Each condition at each value."""
    rows = []
    for trade in TRADES:
        case = next(case for case in CASES if case.name == trade.fault)._replace(right=frozenset({trade.alarm}))
        for value, outcomes in zip(trade.values, tried, strict=False):
            days = [outcome for outcome in outcomes if not outcome.fault]
            struck = [one for one in outcomes if one.fault == trade.fault and one.onset is not None]
            delays = [after for outcome in struck if (after := delay(case, outcome)) is not None]
            hours = sum(outcome.hours for outcome in days)
            false = sum(told.alarm == trade.alarm for outcome in days for told in outcome.raised)
            if hours and struck:
                rate = rate_row(trade.alarm, false, hours)
                rows.append(
                    TradeRow(
                        trade.alarm,
                        trade.limit,
                        value,
                        trade.unit,
                        len(delays),
                        len(struck),
                        share(delays, 50),
                        share(delays, 95),
                        rate.per_1000_h,
                        rate.upper,
                    )
                )
    return rows


def main(words: list[str] | None = None) -> None:
    parser = argparse.ArgumentParser(
        prog="python -m tests.bench.faults", formatter_class=argparse.RawDescriptionHelpFormatter, description=__doc__
    )
    parser.add_argument("--seeds", type=int, default=100, help="recordings a fault (default 100)")
    parser.add_argument("--hours", type=float, default=2000.0, help="healthy machine-hours (default 2,000)")
    parser.add_argument(
        "--tuning-seeds", type=int, default=20, help="recordings a fault for the trade-off (default 20)"
    )
    parser.add_argument("--tuning-hours", type=float, default=100.0, help="and healthy machine-hours (default 100)")
    parser.add_argument(
        "--first", type=int, default=REPORTING, help=f"first seed of what is reported (default {REPORTING:,})"
    )
    parser.add_argument("--fault", action="append", choices=[case.name for case in CASES], help="this fault alone")
    parser.add_argument("--processes", type=int, help="how many at a time (default: one a core)")
    parser.add_argument("--out", type=Path, required=True, help="folder for tables and drawings")
    asked = parser.parse_args(words)
    if asked.seeds < 1 or asked.hours < 4:
        parser.error("at least one seed and four hours")
    if asked.first < TUNING + 2000:
        parser.error("those seeds are for tuning: what is reported begins later")
    cases = [case for case in CASES if not asked.fault or case.name in asked.fault]
    asked.out.mkdir(parents=True, exist_ok=True)
    outcomes = [
        one
        for _, found in carried_out(reported(asked.seeds, asked.hours, cases, asked.first), asked.processes)
        for one in found
    ]
    tried: list[list[Outcome]] = [[] for _ in range(TRIES)]
    if asked.tuning_seeds > 0 and asked.tuning_hours > 0:
        for _, found in carried_out(tuning(asked.tuning_seeds, asked.tuning_hours), asked.processes):
            for nth, outcome in enumerate(found):
                tried[nth].append(outcome)
    days, tuned = round(asked.hours / 4), round(asked.tuning_hours / 4)
    report = summed(cases, outcomes, tried)
    report = report._replace(
        command=f"python -m tests.bench.faults --seeds {asked.seeds} --hours {asked.hours:g} --first {asked.first}",
        seeds=(
            f"Reported: seeds {asked.first:,} to {asked.first + asked.seeds - 1:,} for each fault, "
            f"{HEALTHY + asked.first:,} to {HEALTHY + asked.first + days - 1:,} for healthy running. "
            + (
                f"Trade-off: seeds {TUNING:,} to {TUNING + asked.tuning_seeds - 1:,} and "
                f"{HEALTHY + TUNING:,} to {HEALTHY + TUNING + tuned - 1:,}."
                if report.trades
                else "No trade-off in this run."
            )
        ),
        notes=(f"Run on {datetime.datetime.now(datetime.UTC).date().isoformat()}, default settings.",),
    )
    text = markdown(report)
    (asked.out / "faults.md").write_text(text, encoding="utf-8")
    write_csv(report, asked.out)
    from tests.bench.faults.drawing import draw_delays, draw_trades

    told = {
        case.name: [after for one in outcomes if one.fault == case.name and (after := delay(case, one)) is not None]
        for case in cases
    }
    if any(told.values()):
        draw_delays(told, asked.out / "delays.svg")
    if report.trades:
        draw_trades(report.trades, asked.out / "trade-off.svg")
    print(text)


if __name__ == "__main__":
    main()
