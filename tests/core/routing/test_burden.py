"""How many messages a person got in a day: across both clock changes, by lessons, and what was one message counted once."""

from datetime import date, datetime
from typing import NamedTuple
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.core.effects import Priority
from watchdog.core.routing.burden import DayLoad, load_of
from watchdog.core.timetable import Kind, Period, Timetable

LISBON = ZoneInfo("Europe/Lisbon")
DAY = date(2026, 3, 2)
LEAD = "workshop-lead"


class Row(NamedTuple):
    person: str
    priority: Priority
    delivered: float | None


def at(text: str, day: date = DAY) -> float:
    return datetime.fromisoformat(f"{day.isoformat()}T{text}").replace(tzinfo=LISBON).timestamp()


def told(*times: str, priority: Priority = Priority.HIGH, day: date = DAY, person: str = LEAD) -> list[Row]:
    return [Row(person, priority, at(text, day)) for text in times]


LESSONS = Timetable(
    LISBON,
    periods=(
        Period(at("13:00"), at("14:30"), Kind.LESSON),
        Period(at("13:40"), at("13:50"), Kind.BREAK),
    ),
)


def test_messages_count_inside_and_outside_lessons_and_a_break_is_outside() -> None:
    rows = told("12:59:59", "13:00", "13:45", "14:29", "14:30")
    assert load_of(rows, LESSONS, LEAD, DAY) == DayLoad(in_lessons=2, outside=3, urgent=0, busiest_hour=3)


def test_what_went_out_as_one_message_counts_once_and_is_urgent_when_any_of_it_was() -> None:
    rows = told("13:10", "13:10", "13:10") + told("13:10", "15:00", priority=Priority.URGENT)
    assert load_of(rows, LESSONS, LEAD, DAY) == DayLoad(in_lessons=1, outside=1, urgent=2, busiest_hour=0)


def test_others_messages_other_days_and_what_was_never_delivered_are_left_out() -> None:
    rows = [
        *told("13:10", person="duty-warden"),
        *told("13:10", day=date(2026, 3, 1)),
        *told("00:00", day=date(2026, 3, 3)),
        Row(LEAD, Priority.HIGH, None),
    ]
    assert load_of(rows, LESSONS, LEAD, DAY) == DayLoad(0, 0, 0, 0)


def test_the_busiest_hour_may_lie_across_the_full_hour() -> None:
    rows = told("09:30", "09:50", "10:10", "10:29", "10:30", "16:00")
    assert load_of(rows, LESSONS, LEAD, DAY).busiest_hour == 4


def test_more_than_two_inside_lessons_are_beyond_the_budget() -> None:
    assert not load_of(told("13:01", "13:05"), LESSONS, LEAD, DAY).beyond
    assert load_of(told("13:01", "13:05", "13:09"), LESSONS, LEAD, DAY).beyond


@pytest.mark.parametrize("day", [date(2026, 3, 29), date(2026, 10, 25)], ids=["23 hours", "25 hours"])
def test_a_day_of_a_clock_change_is_whole(day: date) -> None:
    rows = told("00:00", "23:59:59", day=day)
    assert load_of(rows, LESSONS, LEAD, day).outside == 2


@given(st.lists(st.integers(0, 86399)), st.lists(st.sampled_from(list(Priority)), min_size=1))
def test_every_message_is_either_inside_or_outside(seconds: list[int], priorities: list[Priority]) -> None:
    rows = [
        Row(LEAD, priorities[number % len(priorities)], at("00:00") + second) for number, second in enumerate(seconds)
    ]
    found = load_of(rows, LESSONS, LEAD, DAY)
    assert found.in_lessons + found.outside == len(set(seconds))
    assert found.urgent + found.busiest_hour <= len(set(seconds))
