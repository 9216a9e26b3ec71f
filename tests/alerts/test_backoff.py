"""The schedule of retries, and who is told."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.alerts.backoff import BackOff, rounds_so_far
from watchdog.alerts.recipients import recipients
from watchdog.alerts.routes import Person
from watchdog.core.effects import Priority, Tell, TellKind
from watchdog.core.moment import Moment


def test_the_pause_doubles_up_to_five_minutes() -> None:
    pauses = [BackOff().after(rounds) for rounds in range(1, 9)]
    assert pauses == [10, 20, 40, 80, 160, 300, 300, 300]


@given(st.integers(-5, 10**9))
def test_no_number_of_failures_makes_the_pause_leave_its_bounds(rounds: int) -> None:
    assert 10 <= BackOff().after(rounds) <= 300


@pytest.mark.parametrize(("attempts", "routes", "rounds"), [(0, 2, 0), (2, 2, 1), (3, 2, 1), (4, 2, 2), (5, 0, 5)])
def test_a_round_is_one_try_on_each_route(attempts: int, routes: int, rounds: int) -> None:
    assert rounds_so_far(attempts, routes) == rounds


def told(priority: Priority) -> Tell:
    return Tell(Moment(0, 0), TellKind.ALARM, "silent", 1, priority, Moment(0, 0), 1, {}, None)


LEAD = Person("workshop lead", ())
CARETAKER = Person("caretaker", (), frozenset({Priority.URGENT}))


def test_each_person_gets_the_priorities_that_the_settings_name() -> None:
    assert recipients(told(Priority.URGENT), [LEAD, CARETAKER]) == (LEAD, CARETAKER)
    assert recipients(told(Priority.HIGH), [LEAD, CARETAKER]) == (LEAD,)


def test_what_asks_for_action_within_minutes_is_never_told_to_nobody() -> None:
    assert recipients(told(Priority.HIGH), [CARETAKER]) == (CARETAKER,)
    assert recipients(told(Priority.LOW), [CARETAKER]) == ()
