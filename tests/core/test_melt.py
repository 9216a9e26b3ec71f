"""What a heater's power says about flow: check values by hand, and the relation of several jobs."""

import pytest

from watchdog.core import melt
from watchdog.core.snapshot import Heater


def test_two_millimetres_a_second_of_pla_take_a_twentieth_of_a_small_heater() -> None:
    """5.37e-3 J/(mm K) · 2 mm/s · 175 K = 1.88 W, beside 0.12 W/K · 175 K = 21 W that hold the block: 9 % more."""
    held = 0.12 * 175
    takes = melt.taken(held * (1 + 2 * melt.MELTS), 2.0, melt.MELTS) * 2
    assert takes == pytest.approx(1.88, rel=0.02)


def test_power_is_taken_where_the_reading_is_at_its_target() -> None:
    """The control answers to the reading's noise: power 25 lower for each degree above. The mean reading is off by chance."""
    held = melt.NONE
    for nth, off in enumerate((-0.2, 0.1, 0.3, -0.1, 0.4, 0.2)):
        held = melt.read(held, Heater(205.0 + off, 205.0, round(1000 - 250 * off), 1270, at=float(nth)))
    assert melt.at_target(held, held.spread, held.together, 205.0) == pytest.approx(1000 / 183, rel=1e-3)


def test_a_reading_counts_once_and_only_near_the_target() -> None:
    near = Heater(205.1, 205.0, 64, 127, at=1.0)
    once = melt.read(melt.NONE, near)
    assert melt.read(once, near) is once
    for other in (
        Heater(190.0, 205.0, 127, 127, at=2.0),
        Heater(205.0, 205.0, None, 127, at=2.0),
        Heater(None, 205.0, 64, 127, at=2.0),
        Heater(24.0, 0.0, 0, 127, at=2.0),
    ):
        assert melt.read(once, other) is once


def test_jobs_of_different_flow_teach_the_share_that_melts() -> None:
    flows = (1.0, 1.2, 1.4, 1.6, 1.8)
    level, spread, share = melt.relation([2.0 * (1 + 0.05 * flow) for flow in flows], flows)
    assert level == pytest.approx(2.0 * 1.07)
    assert share == pytest.approx(0.05)
    assert spread == pytest.approx(melt.LEAST_SPREAD * level)


def test_one_odd_job_and_impossible_slopes_move_little() -> None:
    """A job with the fan off must not turn the machine's melting into something that physics does not know."""
    flows = (1.0, 1.2, 1.4, 1.6, 1.8)
    sound = [2.0 * (1 + 0.05 * flow) for flow in flows]
    level, _, share = melt.relation([*sound[:-1], 1.2], flows)
    assert level == pytest.approx(2.0 * 1.07, rel=0.02)
    assert melt.LEAST_SHARE <= share <= melt.MOST_SHARE
    assert melt.relation([2.0, 2.2], (1.0, 1.1))[2] == melt.MELTS
