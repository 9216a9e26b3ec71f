"""Poisson rates and mean time between failures, at the printed precision of published values."""

from collections.abc import Callable
from math import isclose, log

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.statistics.mtbf import mtbf, running_needed
from watchdog.statistics.quantiles import normal_chance
from watchdog.statistics.rates import rate_interval, rate_lower, rate_upper

Prints = Callable[..., None]


@pytest.mark.parametrize(
    ("events", "at_90", "at_95", "at_99", "two_sided", "gehrels"),
    [
        # Gehrels, The Astrophysical Journal 303 (1986), 1 sigma, as kept in the test suite of astropy; the rest with scipy
        (0, "2.3026", "2.9957", "4.6052", "0 3.6889", "0 1.841"),
        (1, "3.8897", "4.7439", "6.6384", "0.0253 5.5716", "0.173 3.300"),
        (2, "5.3223", "6.2958", "8.4059", "0.2422 7.2247", "0.708 4.638"),
        (3, "6.6808", "7.7537", "10.0451", "0.6187 8.7673", "1.367 5.918"),
        (4, "7.9936", "9.1535", "11.6046", "1.0899 10.2416", "2.086 7.163"),
        (5, "9.2747", "10.5130", "13.1085", "1.6235 11.6683", "2.840 8.382"),
        (6, "10.5321", "11.8424", "14.5706", "2.2019 13.0595", "3.620 9.584"),
        (7, "11.7709", "13.1481", "16.0000", "2.8144 14.4227", "4.419 10.77"),
        (10, "15.4066", "16.9622", "20.1447", "4.7954 18.3904", "6.891 14.27"),
    ],
)
def test_bounds_of_a_rate(
    events: int, at_90: str, at_95: str, at_99: str, two_sided: str, gehrels: str, prints: Prints
) -> None:
    for confidence, printed in ((0.90, at_90), (0.95, at_95), (0.99, at_99)):
        prints(rate_upper(events, 1.0, confidence), printed)
    prints(rate_interval(events, 1.0), two_sided)
    one_sigma = normal_chance(1)
    prints((rate_lower(events, 1.0, one_sigma), rate_upper(events, 1.0, one_sigma)), gehrels)


def test_the_two_sigma_limits_of_gehrels(prints: Prints) -> None:
    found = tuple(rate_upper(events, 1.0, normal_chance(2)) for events in range(6))
    prints(found[:4], "3.783 5.683 7.348 8.902")
    prints(found[4:], "10.39 11.82")


def test_three_false_alarms_in_a_hundred_hours(prints: Prints) -> None:
    prints(rate_upper(3, 100.0), "0.07754")


@given(st.integers(0, 400), st.floats(0.1, 1e5), st.floats(0.5, 0.999))
def test_a_rate_lies_in_its_interval(events: int, exposure: float, confidence: float) -> None:
    low, high = rate_interval(events, exposure, confidence)
    assert 0 <= low <= events / exposure < high


# ---------------------------------------------------------------- mean time between failures


def test_two_failures_in_800_hours(prints: Prints) -> None:
    """NIST/SEMATECH e-Handbook 8.4.5.1, 90 %."""
    found = mtbf(800.0, 2, 0.90)
    assert found.high is not None
    prints((found.low, found.high), "127.0690 2251.229")


@pytest.mark.parametrize(
    ("failures", "printed"),
    [  # multipliers of T/r at 60, 80, 90 and 95 %, low and high: recomputed with scipy
        (1, "0.3340 4.4814 0.2571 9.4912 0.2108 19.4957 0.1795 39.4979"),
        (2, "0.4674 2.4260 0.3758 3.7607 0.3177 5.6281 0.2768 8.2573"),
        (3, "0.5440 1.9543 0.4490 2.7222 0.3869 3.6689 0.3422 4.8491"),
        (5, "0.6324 1.6184 0.5391 2.0554 0.4756 2.5379 0.4285 3.0798"),
        (10, "0.7326 1.3719 0.6491 1.6074 0.5895 1.8432 0.5438 2.0853"),
    ],
)
def test_multipliers_when_the_time_was_set(failures: int, printed: str, prints: Prints) -> None:
    found: list[float] = []
    for confidence in (0.60, 0.80, 0.90, 0.95):
        bounds = mtbf(float(failures), failures, confidence)
        assert bounds.high is not None
        found += [bounds.low, bounds.high]
    prints(tuple(found), printed)


@pytest.mark.parametrize(
    ("failures", "printed"),
    [
        (1, "0.6213 0.4343 0.3338 0.2711"),
        (2, "0.6679 0.5142 0.4216 0.3590"),
        (5, "0.7439 0.6255 0.5462 0.4882"),
        (10, "0.7988 0.7039 0.6367 0.5853"),
    ],
)
def test_low_multipliers_when_a_failure_ended_it(failures: int, printed: str, prints: Prints) -> None:
    levels = (0.60, 0.80, 0.90, 0.95)
    ended = [mtbf(float(failures), failures, level, ended_by_failure=True) for level in levels]
    prints(tuple(found.low for found in ended), printed)
    assert [found.high for found in ended] == [mtbf(float(failures), failures, level).high for level in levels]


def test_without_a_failure_only_a_low_bound_is_known(prints: Prints) -> None:
    """NIST/SEMATECH e-Handbook 8.4.5.1: T/(-ln α)."""
    found = mtbf(367.0, 0, 0.90)
    assert (found.estimate, found.high) == (None, None)
    prints(found.low, "159.386")
    assert isclose(mtbf(1.0, 0, 0.95).low, -1 / log(0.05))


def test_running_time_that_shows_228_hours(prints: Prints) -> None:
    found = tuple(running_needed(228.0, failures, 0.80) for failures in range(6))
    prints(found, "366.95 682.70 975.62 1257.43 1532.38 1802.57")


@pytest.mark.parametrize(("running", "failures", "ended"), [(0.0, 1, False), (5.0, -1, False), (5.0, 0, True)])
def test_an_impossible_observation_is_refused(running: float, failures: int, ended: bool) -> None:
    with pytest.raises(ValueError, match=r"needs|at least one"):
        mtbf(running, failures, ended_by_failure=ended)
