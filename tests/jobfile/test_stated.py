"""Durations that a file states about itself."""

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.jobfile.stated import Ends, seconds_in, stated_in

Run = Callable[..., Any]


@pytest.mark.parametrize(
    ("line", "seconds", "by"),
    [
        (";TIME:15792", 15792, "comment"),
        (";time: 15792.5", 15792.5, "comment"),
        ("; job time (s) = 600", 600, "comment"),
        ("; estimated build seconds: 90", 90, "comment"),
        ("; expected job time (normal mode) = 4h 23m 12s", 15792, "comment"),
        ("; total time = 1d 2h 3m 4s", 93784, "comment"),
        ("; build time: 4:23:12", 15792, "comment"),
        ("; build time: 4:23", 15780, "comment"),
        ("; total time: 4 hours 23 minutes", 15780, "comment"),
        ("; total time: 4 hours, and 23 minutes", 15780, "comment"),
        (";TIME_ELAPSED:1532.4", 1532.4, "elapsed"),
        ("M73 P0 R263", 15780, "M73"),
    ],
)
def test_a_stated_duration_is_read_with_its_line(line: str, seconds: float, by: str) -> None:
    (stated,) = stated_in(f"; head\n{line}\nG28\n")
    assert stated.seconds == pytest.approx(seconds)
    assert (stated.by, stated.text) == (by, line)


@pytest.mark.parametrize(
    "line",
    [
        "; minimum layer time = 15",
        "; layer_time_limit: 5",
        "; cooling time: 20s",
        "; times = 1,2,3",
        "; time = soon",
        "; build time = 15792x",
        "; build time (min) : 263",
        "G1 X5 ; no key",
        "; dwell time: 500",
        "M73 P50 R12",
        "; TIME:0",
        "; TIME:1e9",
        ";TIME:" + "9" * 40,
    ],
)
def test_other_times_are_no_durations(line: str) -> None:
    """A limit taken for an estimate would call every job late, or none."""
    assert stated_in(line + "\n") == ()


def test_the_last_elapsed_mark_comes_first_then_m73_then_a_comment(run: Run) -> None:
    text = ";TIME:1000\nM73 P0 R17\n" + "G1 X1\n;TIME_ELAPSED:400\n" * 9000 + ";TIME_ELAPSED:1010.5\n"
    stated = run("plain", text).plan.stated
    assert [(each.by, each.seconds) for each in stated] == [("elapsed", 1010.5), ("M73", 1020), ("comment", 1000)]


@given(st.lists(st.binary(max_size=50_000), max_size=6))
def test_ends_are_the_same_in_any_pieces(pieces: list[bytes]) -> None:
    one, many = Ends(), Ends()
    one.feed(b"".join(pieces))
    for piece in pieces:
        many.feed(piece)
    assert (one._head, one._tail) == (many._head, many._tail)
    assert len(one._head) + len(one._tail) <= 2 * 65_536
    one.stated()


@given(st.text(max_size=60))
def test_any_value_is_a_duration_or_none(value: str) -> None:
    seconds = seconds_in(value, bare=True)
    assert seconds is None or seconds >= 0
