"""The schedule of retries."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.alerts.backoff import BackOff, rounds_so_far


def test_the_pause_doubles_up_to_five_minutes() -> None:
    pauses = [BackOff().after(rounds) for rounds in range(1, 9)]
    assert pauses == [10, 20, 40, 80, 160, 300, 300, 300]


@given(st.integers(-5, 10**9))
def test_no_number_of_failures_makes_the_pause_leave_its_bounds(rounds: int) -> None:
    assert 10 <= BackOff().after(rounds) <= 300


@pytest.mark.parametrize(("attempts", "routes", "rounds"), [(0, 2, 0), (2, 2, 1), (3, 2, 1), (4, 2, 2), (5, 0, 5)])
def test_a_round_is_one_try_on_each_route(attempts: int, routes: int, rounds: int) -> None:
    assert rounds_so_far(attempts, routes) == rounds
