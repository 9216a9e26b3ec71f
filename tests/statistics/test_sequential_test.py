"""Wald's sequential test against a published decision table, and its exact course recomputed."""

from collections.abc import Callable

import pytest

from watchdog.statistics.sprt import Sprt, slope

Prints = Callable[..., None]

TEST = Sprt(healthy=0.01, bad=0.10, false_alarm=0.05, missed=0.10)


def test_the_lines(prints: Prints) -> None:
    """NIST/SEMATECH e-Handbook 6.2.6 prints 0.939, 1.205 and 0.0397 (from memory); further digits recomputed."""
    h1, h2, s = TEST.lines
    prints((h1, h2, s), "0.938862 1.205379 0.0397474")


def test_the_decision_table_row_by_row() -> None:
    """Documentation of the Python package reliability: all numbers for 1 to 100 trials."""
    rejects = dict.fromkeys(range(2, 20), 2) | dict.fromkeys(range(20, 46), 3) | dict.fromkeys(range(46, 71), 4)
    rejects |= dict.fromkeys(range(71, 96), 5) | dict.fromkeys(range(96, 101), 6)
    accepts = (
        dict.fromkeys(range(24, 49), 0) | dict.fromkeys(range(49, 74), 1) | dict.fromkeys(range(74, 100), 2) | {100: 3}
    )
    for trials in range(1, 101):
        assert TEST.rejects_at(trials) == rejects.get(trials)
        assert TEST.accepts_at(trials) == accepts.get(trials)


def test_the_published_run_stops_at_its_third_failure() -> None:
    """Failures at trials 14, 32 and 38: rejected at 38, not earlier."""
    failed = (14, 32, 38)
    verdicts = [TEST.decision(n, sum(at <= n for at in failed)) for n in range(1, 39)]
    assert verdicts.index(True) == 37
    assert False not in verdicts


def test_mean_trials_by_wald_and_counted_exactly(prints: Prints) -> None:
    """Recomputed: Wald's approximation ignores the overshoot, so more trials are needed and fewer errors made."""
    prints((TEST.expected_trials(0.01), TEST.expected_trials(0.10)), "27.957 16.447")
    prints(TEST.expected_trials(slope(0.01, 0.10)), "29.650")
    healthy, bad = TEST.exact(0.01), TEST.exact(0.10)
    prints((healthy.trials, bad.trials), "30.213 22.369")
    prints((healthy.rejected, 1 - bad.rejected), "0.02205 0.09958")


def test_a_second_test(prints: Prints) -> None:
    """The shares and errors of Wald's own example of 1945 (from memory); numbers recomputed."""
    test = Sprt(0.1, 0.3, 0.02, 0.03)
    prints(test.lines, "2.582626 2.875389 0.186169")
    prints((test.expected_trials(0.1), test.expected_trials(0.3)), "28.705 23.822")
    prints(test.expected_trials(slope(0.1, 0.3)), "49.014")
    prints((test.exact(0.1).trials, test.exact(0.3).trials), "29.902 26.602")
    prints((test.exact(0.1).rejected, 1 - test.exact(0.3).rejected), "0.01369 0.02742")


def test_a_mean_at_another_share_is_refused() -> None:
    with pytest.raises(ValueError, match="exact"):
        TEST.expected_trials(0.2)
    with pytest.raises(ValueError, match="shares"):
        slope(0.2, 0.1)
