"""How often one person is spoken to."""

from itertools import pairwise

import hypothesis.strategies as st
import pytest
from hypothesis import given

from watchdog.core.routing.pace import HOUR, Budget, Load, Pace, load, may_send_at, within

NOW = 1_772_442_000.0
PACE = Pace()

CASES = {
    "the first one": ([], 0),
    "within the minute": ([-20], 40),
    "after a minute": ([-60], 0),
    "the third within minutes": ([-90, -30], 90),
    "the fourth": ([-200, -100, -50], 250),
    "six in six minutes": ([-300, -240, -180, -120, -60, 0], 3300),
    "six in an hour, the oldest about to leave it": ([-3590, -3000, -2400, -1800, -1200, -600], 300),
    "what has left the hour": ([-3600], 0),
    "the clock was put back": ([50, 3000], 0),
    "in no order": ([-30, -90], 90),
}


@pytest.mark.parametrize("name", CASES)
def test_the_next_message_keeps_its_distance(name: str) -> None:
    sent, wait = CASES[name]
    assert may_send_at(PACE, [NOW + at for at in sent], False, NOW) == NOW + wait


def test_an_urgent_message_never_waits() -> None:
    assert may_send_at(PACE, [NOW - second for second in range(100)], True, NOW) == NOW


times = st.lists(st.integers(0, 4 * 3600), min_size=1, max_size=60).map(sorted)


@given(times)
def test_whatever_comes_one_a_minute_and_six_an_hour_is_the_most(wishes: list[int]) -> None:
    sent: list[float] = []
    for wish in wishes:
        now = max([NOW + wish, *sent])
        at = may_send_at(PACE, sent, False, now)
        assert at >= now
        assert at - now <= 27 * 60, "nothing is held back for longer, since what waits goes together"
        assert may_send_at(PACE, sent, False, at) == at, "asked again at that time it may go"
        sent.append(at)
    assert all(after - before >= 60 for before, after in pairwise(sent))
    assert all(seventh - first >= HOUR for first, seventh in zip(sent, sent[6:], strict=False))


def test_a_load_is_judged_by_its_median_and_its_busy_days() -> None:
    quiet, busy = load([0] * 19 + [9]), load([0] * 18 + [3, 9])
    assert (quiet, busy) == (Load(0, 0, 9), Load(0, 3, 9))
    assert within(Budget(), quiet)
    assert not within(Budget(), busy)
    assert not within(Budget(), load([1] * 20))
    assert load([]) == Load(0, 0, 0)
