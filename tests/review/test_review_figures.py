"""Jobs, losses, heat, durations and sheets against sums by hand and against reference libraries."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy import stats
from statsmodels.duration.survfunc import SurvfuncRight  # type: ignore[import-untyped]
from statsmodels.stats.proportion import proportion_confint  # type: ignore[import-untyped]

from watchdog.record.rows import JobRow
from watchdog.record.term_rows import BlindRow, Result, SheetRow
from watchdog.review.figures import Review, figures
from watchdog.review.rows import HotMinute, House, Rows

HOUR, DAY = 3600.0, 86_400.0
BEGIN = 1_772_409_600.0  # Monday 2026-03-02, midnight in Lisbon
NOON = BEGIN + 13 * HOUR
MakeJob = Callable[..., JobRow]
MakeAlarm = Callable[..., Any]


def review(house: House, days: float = 98, **rows: Any) -> Review:
    filled = Rows((), (), (), (), (), ())._replace(**rows)
    return figures(filled, BEGIN, BEGIN + days * DAY, house)


def test_good_and_failed_make_the_share_and_unknown_stays_apart(house: House, job: MakeJob) -> None:
    """Four good, one failed: 80 %, whatever nobody could or would say."""
    said = [Result.GOOD] * 4 + [Result.FAILED, Result.UNKNOWN, None]
    found = review(house, jobs=tuple(job(nth, outcome) for nth, outcome in enumerate(said))).jobs
    assert (found.good.counted, found.good.of, found.good.share) == (4, 5, 0.8)
    assert (found.unknown, found.unsaid, found.jobs) == (1, 1, 7)
    assert (found.good.low, found.good.high) == pytest.approx(proportion_confint(4, 5, method="wilson"))


def test_what_the_wire_says_stands_beside_what_people_say(house: House, job: MakeJob) -> None:
    """A completed job with a failed part is the first-layer failure that no wire tells of."""
    jobs = (
        job(0),
        job(1, Result.FAILED),
        job(2, Result.FAILED, ending="abandoned"),
        job(3, None, ending=None, ended=None, seconds=None, active=None, blind=None),
    )
    found = review(house, jobs=jobs).jobs
    assert [tuple(one) for one in found.endings] == [
        ("completed", 2, 1, 1, 0, 0),
        ("abandoned", 1, 0, 1, 0, 0),
        ("runs", 1, 0, 0, 0, 1),
    ]
    assert (found.completed.counted, found.completed.of, found.running, found.unsaid) == (2, 3, 1, 0)


def test_hours_say_what_they_lack(house: House, job: MakeJob) -> None:
    jobs = (job(0, seconds=7200.0, active=6000.0), job(1, active=None), job(2, held=300.0))
    found = review(house, jobs=jobs).jobs
    assert tuple(found.taken) == (7200 + 3600 + 3600, 3, 0)
    assert tuple(found.active) == (9600.0, 2, 1)
    assert found.held.total == 300.0


def test_a_job_belongs_to_the_term_in_which_it_began(house: House, job: MakeJob) -> None:
    jobs = (job(-1), job(0), job(97), job(98))
    assert review(house, jobs=jobs).jobs.jobs == 2


def test_blind_moments_count_once_and_only_within_the_term(house: House, job: MakeJob) -> None:
    spans = (
        BlindRow("doorway-1", "watch", BEGIN - 100, BEGIN + 100),
        BlindRow("doorway-1", "link", BEGIN + 50, BEGIN + 150),
        BlindRow("doorway-1", "link", BEGIN + 98 * DAY - 60, None),
    )
    found = review(house, jobs=(job(0, blind=20.0), job(1)), blind=spans).jobs
    assert [(one.machine, one.seconds, one.spans) for one in found.blind] == [
        ("doorway-1", 210.0, 3),
        ("loft-1", 0.0, 0),
    ]
    assert (found.partly_blind.counted, found.partly_blind.of) == (1, 2)


def test_causes_and_origins_come_with_counts_time_filament_and_money(house: House, job: MakeJob) -> None:
    """Three failures: two tangles of 1 h and 10 g, one overhang of 30 min and 5 g. 25 g at 21 a kg are 0.525."""
    jobs = (
        job(0, Result.FAILED, cause="feed-tangle"),
        job(1, Result.FAILED, cause="overhang", seconds=1800.0, filament_g=5.0),
        job(2, Result.FAILED, cause="feed-tangle", origin="supply"),
        job(3),
    )
    lost = review(house, jobs=jobs).losses
    told = [
        (one.name, one.jobs.counted, one.jobs.of, one.cumulative, one.seconds.total, one.grams.total)
        for one in lost.causes
    ]
    assert told == [("feed-tangle", 2, 3, pytest.approx(2 / 3), 7200.0, 20.0), ("overhang", 1, 3, 1.0, 1800.0, 5.0)]
    assert sorted((one.name, one.jobs.counted) for one in lost.origins) == [
        ("design", 1),
        ("material", 1),
        ("supply", 1),
    ]
    assert (lost.seconds.total, lost.grams.total) == (9000.0, 25.0)
    assert lost.filament_money == pytest.approx(0.525)


def test_without_prices_no_money_is_told(house: House, job: MakeJob) -> None:
    poor = replace(house, filament_price=None, sheet_price=None)
    lost = review(poor, jobs=(job(0, Result.FAILED, filament_g=None),)).losses
    assert (lost.filament_money, lost.sheets_money) == (None, None)
    assert (lost.grams.total, lost.grams.known, lost.grams.unknown) == (0, 0, 1)


def test_a_free_word_is_counted_and_not_shown(house: House, job: MakeJob) -> None:
    """It might be somebody's name."""
    jobs = (job(0, Result.FAILED, cause="Filomena", origin="pupil"), job(1, Result.FAILED))
    lost = review(house, jobs=jobs).losses
    assert {one.name for one in (*lost.causes, *lost.origins)} == {"another", "not said"}


def test_worn_sheets_of_the_term_cost_their_price(house: House) -> None:
    sheets = (
        SheetRow(1, "doorway-1", BEGIN - DAY, "-", BEGIN + DAY, "-", "worn", "", 9),
        SheetRow(2, "doorway-1", BEGIN + DAY, "-", BEGIN + 2 * DAY, "-", "other-material", "", 3),
        SheetRow(3, "doorway-1", BEGIN + 2 * DAY, "-", BEGIN + 200 * DAY, "-", "worn", "", 3),
    )
    lost = review(house, sheets=sheets).losses
    assert (lost.sheets, lost.sheets_money) == (1, 6.5)


def hot_idle(alarm: MakeAlarm, at: float, minutes: float, **changes: Any) -> Any:
    facts = {"nozzle": 200.0}
    return alarm(at, "hot-idle", evidence=facts, returned=at + 60 * minutes, cleared=at + 60 * minutes, **changes)


def test_heat_spared_until_the_next_job(house: House, job: MakeJob, alarm: MakeAlarm) -> None:
    """Raised at 14:00, cool at 14:10, the next job at 15:00: 50 min at the usual 200 °C are 50 equivalent minutes."""
    following = job(0, started=NOON + 2 * HOUR)
    found = review(house, jobs=(following,), occurrences=(hot_idle(alarm, NOON + HOUR, 10),)).heat
    assert (found.alarms, found.judged) == (1, 1)
    assert found.minutes == pytest.approx(50.0)
    assert found.dose == pytest.approx(50.0)


@pytest.mark.parametrize(
    ("at", "minutes"),
    [
        pytest.param(NOON + HOUR, 7 * 60 - 10, id="Monday 14:00: until 21:00"),
        pytest.param(BEGIN + 5 * DAY + 15 * HOUR, 9 * 60 - 10, id="Saturday 15:00, outside the hours: until midnight"),
        pytest.param(
            BEGIN + 27 * DAY + 22 * HOUR, 60 - 10, id="Sunday of summer time, 23:00 on the wall: until midnight"
        ),
    ],
)
def test_heat_spared_until_the_day_ends(house: House, alarm: MakeAlarm, at: float, minutes: float) -> None:
    assert review(house, occurrences=(hot_idle(alarm, at, 10),)).heat.minutes == pytest.approx(minutes)


def test_what_was_told_to_nobody_or_ended_unseen_spared_nothing(house: House, alarm: MakeAlarm) -> None:
    untold = hot_idle(alarm, NOON + HOUR, 10, first_told=None)
    lost = alarm(NOON + 2 * HOUR, "hot-idle", returned=None, cleared=None, let_go=NOON + 3 * HOUR)
    taken_up = hot_idle(alarm, NOON + 4 * HOUR, 10_000)
    found = review(house, occurrences=(untold, lost, taken_up)).heat
    assert (found.alarms, found.judged, found.minutes) == (3, 1, 0.0)


def test_hot_minutes_that_touch_a_job_are_in_it(house: House, job: MakeJob) -> None:
    """The job runs from 13:00 to 14:00; the record's own count has the same rule."""
    minutes = (NOON - 60, NOON - 59, NOON, NOON + 3540, NOON + 3599, NOON + HOUR, NOON + 2 * HOUR)
    found = review(house, jobs=(job(0),), hot=tuple(HotMinute("doorway-1", at) for at in minutes)).heat
    assert (found.in_jobs, found.idle) == (4, 3)


def test_durations_against_plans(house: House, job: MakeJob) -> None:
    """Eight jobs planned for 1 h with bounds of 3000 and 4000 s: one ends early, two late."""
    real = (2900.0, 3100.0, 3500.0, 3600.0, 3650.0, 3700.0, 4100.0, 5000.0)
    jobs = tuple(job(nth, active=seconds) for nth, seconds in enumerate(real))
    aside = (
        job(20, active=None),
        job(21, planned=None, planned_low=None, planned_high=None),
        job(22, ending="abandoned"),
    )
    took = review(house, jobs=(*jobs, *aside)).durations
    assert took.ratios == tuple(seconds / 3600 for seconds in real)
    assert (took.inside.counted, took.inside.of, took.early, took.late, took.completed) == (5, 8, 1, 2, 10)
    assert took.ratio.median == pytest.approx(np.median(real) / 3600)
    reference: Any = stats.quantile_test(took.ratios, p=0.5).confidence_interval(0.95)
    assert (took.ratio.low, took.ratio.high) == (reference.low, reference.high)
    assert took.seconds_over == pytest.approx(sum(real) - 8 * 3600)


def test_life_of_sheets_is_kaplan_meier(house: House) -> None:
    lives = [(12, "worn"), (20, "torn"), (20, "other-material"), (25, "worn"), (28, "let-go"), (31, "worn"), (8, None)]
    sheets = tuple(
        SheetRow(nth, "doorway-1", BEGIN + nth, "-", None if why is None else BEGIN + nth + 1, "-", why, "", jobs)
        for nth, (jobs, why) in enumerate(lives)
    )
    found = review(house, sheets=sheets).sheets
    worn = [why in ("worn", "torn", "let-go") for _, why in lives]
    reference = SurvfuncRight([jobs for jobs, _ in lives], worn)
    assert [step.time for step in found.steps] == list(reference.surv_times)
    assert [step.survival for step in found.steps] == pytest.approx(list(reference.surv_prob))
    assert found.life is not None
    assert found.life.middle == reference.quantile(0.5)


def test_a_term_must_begin_before_it_ends(house: House) -> None:
    with pytest.raises(ValueError, match="begins before it ends"):
        review(house, days=0)
