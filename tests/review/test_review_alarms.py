"""Alarms, answers, messages, and what is offered for a change."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from statsmodels.stats.proportion import proportion_confint  # type: ignore[import-untyped]

from watchdog.core.effects import Priority, TellKind
from watchdog.record.rows import JobRow
from watchdog.record.term_rows import MessageRow, OccurrenceRow, Result, Usefulness
from watchdog.review.figures import Review, figures
from watchdog.review.rows import House, Rows

HOUR, DAY = 3600.0, 86_400.0
BEGIN = 1_772_409_600.0
NOON = BEGIN + 13 * HOUR
USEFUL, NUISANCE, LATE = Usefulness.USEFUL, Usefulness.NUISANCE, Usefulness.LATE
MakeJob = Callable[..., JobRow]
MakeAlarm = Callable[..., OccurrenceRow]


def review(house: House, days: float = 98, **rows: Any) -> Review:
    return figures(Rows((), (), (), (), (), ())._replace(**rows), BEGIN, BEGIN + days * DAY, house)


def test_use_is_counted_by_what_people_said(house: House, alarm: MakeAlarm) -> None:
    said = [USEFUL, USEFUL, NUISANCE, LATE, None]
    raised = tuple(alarm(NOON + nth * DAY, useful=word) for nth, word in enumerate(said))
    found = review(house, occurrences=raised).alarms
    (one,) = found.conditions
    assert (one.alarm, one.raised, one.useful.counted, one.useful.of, one.nuisance, one.late) == (
        "job-stalled",
        5,
        2,
        4,
        1,
        1,
    )
    assert (one.useful.low, one.useful.high) == pytest.approx(proportion_confint(2, 4, method="wilson"))


def test_load_by_day_and_shift_is_of_local_days(house: House, alarm: MakeAlarm) -> None:
    """Two on Monday morning and one in the evening; the term has two days. 23:30 UTC in summer is the next day."""
    at = (BEGIN + 9 * HOUR, BEGIN + 10 * HOUR, BEGIN + 20 * HOUR)
    found = review(house, days=2, occurrences=tuple(map(alarm, at))).alarms
    assert (found.a_day.spans, found.a_day.mean, found.a_day.most) == (2, 1.5, 3)
    assert (found.a_shift.spans, found.a_shift.mean, found.a_shift.most) == (6, 0.5, 2)
    summer = BEGIN + 60 * DAY + 20 * HOUR
    both = review(house, occurrences=(alarm(summer), alarm(summer + 3.5 * HOUR))).alarms
    assert (both.a_day.spans, both.a_day.most) == (99, 1)  # the term's last hour is of the next local day


@pytest.mark.parametrize(("alarms", "floods"), [(10, 0), (11, 1)])
def test_more_than_ten_in_ten_minutes_are_a_flood(house: House, alarm: MakeAlarm, alarms: int, floods: int) -> None:
    raised = tuple(alarm(NOON + 50 * nth, machine=f"doorway-{nth}") for nth in range(alarms))
    assert review(house, occurrences=raised).alarms.floods == floods


def test_a_flood_ends_when_it_ebbs(house: House, alarm: MakeAlarm) -> None:
    first = [alarm(NOON + 10 * nth, machine=f"m-{nth}") for nth in range(30)]
    second = [alarm(NOON + 2 * HOUR + 10 * nth, machine=f"m-{nth}") for nth in range(30)]
    assert review(house, occurrences=(*first, *second)).alarms.floods == 2


def test_three_of_one_alarm_in_a_minute_chatter(house: House, alarm: MakeAlarm) -> None:
    chatter = tuple(alarm(NOON + 25 * nth, "silent") for nth in range(3))
    calm = tuple(alarm(NOON + 30 * nth, "job-late") for nth in range(3))
    apart = tuple(alarm(NOON, "link-lost", machine=f"m-{nth}") for nth in range(3))
    assert review(house, occurrences=(*chatter, *calm, *apart)).alarms.chattering == ("silent",)


def test_what_stands_for_more_than_a_day_is_stale(house: House, alarm: MakeAlarm) -> None:
    open_still = alarm(NOON, cleared=None)
    long = alarm(NOON, cleared=NOON + DAY + 1)
    let_go = alarm(NOON, cleared=None, let_go=NOON + HOUR)
    fresh = alarm(BEGIN + 98 * DAY - HOUR, cleared=None)
    assert review(house, occurrences=(open_still, long, let_go, fresh)).alarms.stale == 2


def test_priorities_are_held_against_their_aim(house: House, alarm: MakeAlarm) -> None:
    raised = (alarm(NOON), alarm(NOON), alarm(NOON, priority=Priority.LOW))
    found = review(house, occurrences=raised).alarms.priorities
    assert [(one.priority, one.raised.counted, one.aim) for one in found] == [
        (Priority.URGENT, 0, 0.05), (Priority.HIGH, 2, 0.15), (Priority.LOW, 1, 0.80),
    ]  # fmt: skip


def test_times_to_be_told_and_to_answer(house: House, alarm: MakeAlarm) -> None:
    """Nine answers after 10, 20 … 90 s; job-stalled is to be answered within 5 min."""
    raised = [alarm(NOON + nth * HOUR, acknowledged=NOON + nth * HOUR + 10 * nth) for nth in range(1, 10)]
    late = alarm(NOON, acknowledged=NOON + 400, returned=NOON + 500, cleared=NOON + 500)
    stepped = alarm(NOON, acknowledged=NOON - 3000, returned=None, cleared=None, first_told=None)
    (_, high, _) = review(house, occurrences=(*raised, late, stepped)).responses
    waits = [*(10.0 * nth for nth in range(1, 10)), 400.0]
    assert (high.whole.of, high.whole.median) == (10, np.median(waits))
    assert high.whole.p90 == pytest.approx(90 + 0.9 * 310)  # rank 9.9 of 10
    assert (high.told.median, high.answered.median) == (2.0, np.median(waits) - 2)
    assert (high.in_time.counted, high.in_time.of) == (9, 10)


def message(person: str, at: float, delivered: float | None = None, **changes: Any) -> MessageRow:
    row = MessageRow(
        1, 1, "doorway-1", "hot-idle", 1, TellKind.ALARM, 1, person, Priority.HIGH, at, at, None, False, "", 1, delivered,
        None, None,
    )  # fmt: skip
    return row._replace(**changes)


def test_messages_are_counted_as_they_went_out(house: House) -> None:
    rows = (
        message("workshop-lead", NOON, NOON + 2),
        message("workshop-lead", NOON + 1, NOON + 2),  # with the one before, as one message
        message("duty-warden", NOON, given_up=NOON + 9),
        message("duty-warden", NOON),
    )
    sent = review(house, messages=rows).messages
    assert (sent.sent, sent.given_up, sent.waiting, sent.people) == (1, 1, 1, 2)


def test_two_people_are_not_told_apart(house: House) -> None:
    """With two, each could work out the other's messages."""
    rows = tuple(message(person, NOON, NOON + 2) for person in ("workshop-lead", "duty-warden"))
    assert review(house, messages=rows).messages.each_week is None


def test_three_people_are_pooled_and_quiet_weeks_count(house: House) -> None:
    """Four weeks, three people: twelve person-weeks, of which ten without a message."""
    rows = (
        message("workshop-lead", NOON, NOON + 2),
        message("workshop-lead", NOON + DAY, NOON + DAY),
        message("duty-warden", NOON + 8 * DAY, NOON + 8 * DAY),
        message("evening-tutor", NOON),
    )
    each = review(house, days=28, messages=rows).messages.each_week
    assert each is not None
    assert (each.of, each.median) == (12, 0.0)
    assert each.p90 == pytest.approx(1 + 0.7 * 1)  # rank 11.7 of 0 … 0, 1, 2


def offers(found: Review) -> list[tuple[str, str, bool, bool]]:
    return [(one.offer.value, one.subject, one.sure, one.urgent) for one in found.changes]


def test_an_alarm_below_seventy_percent_is_offered_with_its_labels(house: House, alarm: MakeAlarm) -> None:
    """0 of 6 is below for sure (0 to 39 %), 2 of 3 is not (21 to 94 %), 3 of 4 is above."""
    raised = [alarm(NOON + nth * DAY, "silent", word) for nth, word in enumerate([NUISANCE] * 6)]
    raised += [alarm(NOON + nth * DAY, "job-late", word) for nth, word in enumerate([USEFUL, USEFUL, LATE])]
    raised += [alarm(NOON + nth * DAY, "job-stalled", word) for nth, word in enumerate([USEFUL] * 3 + [NUISANCE])]
    raised += [alarm(NOON, "heat-runaway", NUISANCE)]
    found = review(house, occurrences=tuple(raised))
    assert offers(found) == [
        ("alarm", "silent", True, False),
        ("alarm", "job-late", False, False),
        ("alarm", "heat-runaway", False, True),
    ]
    assert [(one.figure.counted, one.figure.of) for one in found.changes] == [(0, 6), (2, 3), (0, 1)]


def test_the_commonest_cause_missing_labels_and_late_ends_are_offered(house: House, job: MakeJob) -> None:
    jobs = [job(nth, Result.FAILED, cause="feed-tangle") for nth in range(2)]
    jobs += [job(nth, None, active=9000.0) for nth in range(2, 22)]
    assert offers(review(house, jobs=tuple(jobs))) == [
        ("cause", "feed-tangle", False, False),
        ("labels", "", True, False),
        ("forecast", "", True, False),
    ]


def test_answers_that_are_mostly_late_are_offered(house: House, alarm: MakeAlarm) -> None:
    raised = tuple(alarm(NOON + nth * DAY, acknowledged=None, returned=None, cleared=None) for nth in range(8))
    assert ("response", "high", True, False) in offers(review(house, occurrences=raised))


def test_a_calm_term_offers_nothing(house: House, job: MakeJob, alarm: MakeAlarm) -> None:
    found = review(house, jobs=tuple(job(nth) for nth in range(20)), occurrences=(alarm(NOON, useful=USEFUL),))
    assert found.changes == ()
