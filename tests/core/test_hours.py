"""Supervised hours: the timetable of the workshop, with both changes of the clocks."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.core.hours import Span, Week, day_of, next_supervised, read_span, supervised, supervised_until

LISBON, HALIFAX = ZoneInfo("Europe/Lisbon"), ZoneInfo("America/Halifax")
EVENING, DAY, MORNING = Span(780, 1260), Span(600, 960), Span(600, 780)
WORKSHOP = Week(((EVENING,), (EVENING,), (EVENING,), (EVENING,), (DAY,), (MORNING,), ()))
ALWAYS = Week(((Span(0, 1440),),) * 7)


def at(text: str, zone: ZoneInfo = LISBON) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=zone).timestamp()


@pytest.mark.parametrize(
    ("time", "there"),
    [
        ("2026-03-02T12:59:59", False),  # a Monday
        ("2026-03-02T13:00:00", True),
        ("2026-03-02T20:59:59", True),
        ("2026-03-02T21:00:00", False),
        ("2026-03-06T10:00:00", True),
        ("2026-03-07T13:00:00", False),
        ("2026-03-08T12:00:00", False),
    ],
)
@pytest.mark.parametrize("zone", [LISBON, HALIFAX], ids=str)
def test_somebody_is_there_from_the_first_minute_to_the_last(time: str, there: bool, zone: ZoneInfo) -> None:
    assert supervised(WORKSHOP, at(time, zone), zone) is there


def test_the_end_and_the_next_beginning_are_told() -> None:
    assert supervised_until(WORKSHOP, at("2026-03-02T14:00"), LISBON) == at("2026-03-02T21:00")
    assert supervised_until(WORKSHOP, at("2026-03-02T22:00"), LISBON) is None
    assert next_supervised(WORKSHOP, at("2026-03-07T14:00"), LISBON) == at("2026-03-09T13:00")
    assert next_supervised(WORKSHOP, at("2026-03-09T13:00"), LISBON) == at("2026-03-10T13:00")
    assert next_supervised(Week(((),) * 7), at("2026-03-02T14:00"), LISBON) is None


@pytest.mark.parametrize(("day", "hours"), [("2026-03-29", 23), ("2026-10-25", 25), ("2026-06-07", 24)])
def test_a_day_of_the_change_of_clocks_has_its_own_length(day: str, hours: int) -> None:
    """Lisbon: 29 March and 25 October 2026."""
    sunday = Week(((),) * 6 + ((Span(0, 1440),),))
    start = at(f"{day}T00:00")
    end = supervised_until(sunday, start, LISBON)
    assert end is not None
    assert end - start == hours * 3600


def test_a_span_over_midnight_is_one() -> None:
    late = Week(((Span(1200, 1440),), (Span(0, 60),), (), (), (), (), ()))
    assert supervised_until(late, at("2026-03-02T23:00"), LISBON) == at("2026-03-03T01:00")
    assert supervised_until(late, at("2026-03-03T00:30"), LISBON) == at("2026-03-03T01:00")


@given(st.floats(1.7e9, 2.0e9), st.sampled_from([LISBON, HALIFAX]))
def test_the_end_lies_ahead_and_just_before_it_somebody_is_still_there(stamp: float, zone: ZoneInfo) -> None:
    end = supervised_until(WORKSHOP, stamp, zone)
    if end is None:
        beginning = next_supervised(WORKSHOP, stamp, zone)
        assert beginning is not None
        assert beginning > stamp
        assert supervised(WORKSHOP, beginning, zone)
    else:
        assert end > stamp
        assert supervised(WORKSHOP, end - 1, zone)
        assert not supervised(WORKSHOP, end, zone)
    assert supervised(ALWAYS, stamp, zone)


@pytest.mark.parametrize("written", ["13:00-21:00", "13:00 – 21:00", " 13:00 to 21:00 "])
def test_spans_are_read_as_people_write_them(written: str) -> None:
    assert read_span(written) == EVENING


@pytest.mark.parametrize("written", ["13-21", "21:00-13:00", "13:00-13:00", "13:70-14:00", "13:00-24:01", ""])
def test_what_is_no_span_is_refused_with_the_remedy(written: str) -> None:
    with pytest.raises(ValueError, match=r"\w"):
        read_span(written)


def test_touching_spans_are_joined_and_overlapping_ones_refused() -> None:
    assert day_of([Span(600, 700), Span(500, 600)]) == (Span(500, 700),)
    with pytest.raises(ValueError, match="overlap"):
        day_of([Span(500, 601), Span(600, 700)])
