"""From outcomes to figures: shares with Clopper-Pearson intervals, delays, rates with Poisson bounds, ISA-18.2 measures."""

from collections import Counter
from collections.abc import Iterable, Sequence
from math import ceil
from typing import Any, NamedTuple

from tests.bench.faults.cases import Case
from tests.bench.faults.outcome import Outcome, Told
from watchdog.statistics.proportions import clopper_pearson
from watchdog.statistics.rates import rate_interval, rate_upper

SHIFT = 8.0  # h
FLOOD, FLOOD_IN = 10, 600.0  # more than so many annunciations in so many s (ANSI/ISA-18.2, 16.5)
CHATTER, CHATTER_IN = 3, 60.0  # so many raisings of one alarm in so many s (ANSI/ISA-18.2, 16.5)
SPLIT_FROM = 100  # annunciations; fewer show no split of priorities
JOBS, SUCCESS, MACHINE_HOURS = 400, 0.99, 650.0  # a school year
WORTH = 0.7
"""share of right alarms below which help is worse than none (C. D. Wickens and S. R. Dixon, 2007)"""
FEW = 5
"""false alarms; by fewer a share of right ones is chance"""
LAPSES = 8.0  # a year: heat left on, holds forgotten. Assumed, no source


class FaultRow(NamedTuple):
    """How the watch did with one fault. Delays in s from the onset; None where nothing was detected."""

    fault: str
    shows: str
    right: tuple[str, ...]
    must_by: float
    not_struck: int
    trials: int
    detected: int
    low: float
    high: float
    late: int
    """the right alarm came, but not in time"""
    delay_median: float | None
    delay_p95: float | None
    delay_max: float | None
    first_right: int
    """recordings in which the first alarm names the cause"""
    with_alarm: int
    """recordings with any alarm"""
    annunciations: float
    """mean a recording"""
    grown: float
    """messages that the incident has become urgent, mean a recording"""
    wrong: tuple[tuple[str, int], ...]
    """alarms that are neither right nor may follow, with the number of recordings"""


def share(values: Sequence[float], of_hundred: float) -> float | None:
    """The value below which `of_hundred` % lie (nearest rank); None when there are none."""
    ranked = sorted(values)
    return ranked[max(0, ceil(len(ranked) * of_hundred / 100) - 1)] if ranked else None


def delay(case: Case, outcome: Outcome) -> float | None:
    """s from the onset to the first right alarm, however late; None when none came."""
    if outcome.onset is None:
        return None
    found = (told.at - outcome.onset for told in outcome.raised if told.alarm in case.right)
    return next((after for after in found if after >= -1.0), None)


def fault_row(case: Case, outcomes: Iterable[Outcome]) -> FaultRow | None:
    """One row; None when the fault struck in no recording."""
    every = [outcome for outcome in outcomes if outcome.fault == case.name]
    struck = [outcome for outcome in every if outcome.onset is not None]
    if not struck:
        return None
    delays = [after for outcome in struck if (after := delay(case, outcome)) is not None]
    detected = sum(after <= case.must_by for after in delays)
    after_onset = [_from(outcome.raised, outcome.onset) for outcome in struck]
    wrong: Counter[str] = Counter()
    for outcome in struck:
        wrong.update({told.alarm for told in outcome.raised} - case.right - case.follow)
    low, high = clopper_pearson(detected, len(struck))
    return FaultRow(
        case.name,
        case.shows,
        tuple(sorted(case.right)),
        case.must_by,
        len(every) - len(struck),
        len(struck),
        detected,
        low,
        high,
        len(delays) - detected,
        share(delays, 50),
        share(delays, 95),
        max(delays, default=None),
        sum(raised[0].alarm in case.right for raised in after_onset if raised),
        sum(bool(raised) for raised in after_onset),
        sum(len(_from(outcome.annunciated, outcome.onset)) for outcome in struck) / len(struck),
        sum(len(_from(outcome.grown, outcome.onset)) for outcome in struck) / len(struck),
        tuple(sorted(wrong.items())),
    )


def _from(told: Sequence[Told], onset: float | None) -> list[Told]:
    return [each for each in told if onset is not None and each.at >= onset - 1.0]


class HealthyRow(NamedTuple):
    """What a group of healthy recordings, or one alarm in all of them, came to."""

    what: str
    hours: float
    alarms: int
    per_1000_h: float
    low: float
    high: float
    """two-sided 95 %"""
    upper: float
    """one-sided 95 %"""


def rate_row(what: str, alarms: int, hours: float) -> HealthyRow:
    """A rate for each 1,000 machine-hours."""
    thousands = hours / 1000
    low, high = rate_interval(alarms, thousands)
    return HealthyRow(what, hours, alarms, alarms / thousands, low, high, rate_upper(alarms, thousands))


def healthy_rows(outcomes: Sequence[Outcome]) -> list[HealthyRow]:
    """All together, each alarm, and the machines with and without each trait."""
    hours = sum(outcome.hours for outcome in outcomes)
    rows = [rate_row("all conditions", sum(len(outcome.raised) for outcome in outcomes), hours)]
    alarms = Counter(told.alarm for outcome in outcomes for told in outcome.raised)
    rows += [rate_row(f"alarm {alarm}", count, hours) for alarm, count in sorted(alarms.items())]
    for trait in sorted({trait for outcome in outcomes for trait in outcome.traits}):
        those = [outcome for outcome in outcomes if trait in outcome.traits]
        rows.append(
            rate_row(f"machines: {trait}", sum(len(one.raised) for one in those), sum(one.hours for one in those))
        )
    plain = [outcome for outcome in outcomes if not outcome.traits]
    if plain:
        rows.append(
            rate_row("machines: nothing special", sum(len(one.raised) for one in plain), sum(o.hours for o in plain))
        )
    return rows


class Load(NamedTuple):
    """The load on people in healthy running, after ANSI/ISA-18.2."""

    shifts: float
    annunciations: int
    a_shift: float
    floods: int
    """recordings with more than 10 annunciations in some 10 minutes"""
    chattering: int
    """recordings in which one alarm was raised three times within a minute"""
    standing: int
    """alarms that stood when their recording ended; a day, as the standard has it, is longer than a recording"""
    split: dict[str, float] | None
    """share of each priority; None below 100 annunciations"""


def load(outcomes: Sequence[Outcome]) -> Load:
    """See above."""
    shifts = sum(outcome.hours for outcome in outcomes) / SHIFT
    told = [each for outcome in outcomes for each in outcome.annunciated]
    priorities = Counter(each.priority for each in told)
    return Load(
        shifts,
        len(told),
        len(told) / shifts,
        sum(_most([each.at for each in outcome.annunciated], FLOOD_IN) > FLOOD for outcome in outcomes),
        sum(any(_most(times, CHATTER_IN) >= CHATTER for times in _by_alarm(outcome)) for outcome in outcomes),
        sum(outcome.standing for outcome in outcomes),
        {name: count / len(told) for name, count in sorted(priorities.items())} if len(told) >= SPLIT_FROM else None,
    )


def _by_alarm(outcome: Outcome) -> list[list[float]]:
    names = {told.alarm for told in outcome.raised}
    return [[told.at for told in outcome.raised if told.alarm == name] for name in sorted(names)]


def _most(times: Sequence[float], within: float) -> int:
    """The greatest number of `times` in any stretch of `within` s."""
    ranked = sorted(times)
    return max((sum(at <= other <= at + within for other in ranked) for at in ranked), default=0)


class YearRow(NamedTuple):
    """One alarm in a school year."""

    alarm: str
    incidents: float
    """that it ought to tell"""
    right: float
    wrong: float
    share: float | None
    """right of all; None when none is expected"""
    low: float
    high: float
    wrong_upper: float
    """a year, one-sided 95 %"""
    false_seen: int = FEW
    """false alarms in the healthy recordings"""

    @property
    def below(self) -> bool | None:
        """Fewer than `WORTH` of its alarms are right, by `FEW` false ones or more: it would not speak by default.

        None when that cannot be told: no fault of the bench is its own, or too few came to tell a share by.
        """
        if self.share is None or not self.incidents:
            return None
        return False if self.share >= WORTH else True if self.false_seen >= FEW else None


def year_rows(cases: Sequence[Case], rows: dict[str, FaultRow], outcomes: Sequence[Outcome]) -> list[YearRow]:
    """The expected share of right alarms in a school year, for each alarm that the bench knows to be right for a fault.

    The four failed jobs of a year, and the lapses of people, are shared evenly among the faults of their kind, and a
    fault's part among its cases; a fault is told by the alarms that are right for it. The interval joins the low ends of
    the detected shares with the high end of the false rate, and the other way round: it is wider than 95 %.
    """
    told = [case for case in cases if case.right and case.name in rows]
    lapses = [case for case in told if case.fault in LAPSING]
    failures = [case for case in told if case.fault not in LAPSING]
    years = sum(outcome.hours for outcome in outcomes) / MACHINE_HOURS
    raised = Counter(each.alarm for outcome in outcomes for each in outcome.raised)
    found = []
    for alarm in sorted({name for case in told for name in case.right} | set(raised)):
        incidents = right = right_low = right_high = 0.0
        for group, a_year in ((failures, JOBS * (1 - SUCCESS)), (lapses, LAPSES)):
            variants = Counter(case.fault for case in group)
            for case in group:
                if alarm in case.right:
                    row = rows[case.name]
                    part = a_year / len(variants) / variants[case.fault]
                    incidents += part
                    right += part * row.detected / row.trials
                    right_low += part * row.low
                    right_high += part * row.high
        wrong = raised[alarm] / years
        low, high = rate_interval(raised[alarm], years)
        whole = right + wrong
        least = right_low / (right_low + high)
        most = right_high / (right_high + low) if right_high + low else 0.0
        upper = rate_upper(raised[alarm], years)
        right_share = right / whole if whole else None
        found.append(YearRow(alarm, incidents, right, wrong, right_share, least, most, upper, raised[alarm]))
    return found


LAPSING = frozenset(
    {
        "hot-after-job", "hot-after-load", "preheat-forgotten", "job-not-started", "paused-forgotten",
        "filament-change-waits",
    }
)  # fmt: skip
"""faults that are a person's lapse, not a failed job"""


def row_facts(row: FaultRow) -> dict[str, Any]:
    """A row for a table of text."""
    facts = row._asdict()
    facts["right"] = " ".join(row.right)
    facts["wrong"] = " ".join(f"{name}:{count}" for name, count in row.wrong)
    return facts
