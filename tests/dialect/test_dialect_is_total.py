"""Whatever comes over the wire, reading it gives a tuple of observations and nothing else."""

import math
import typing

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from watchdog.core.observations import Observation, Unread
from watchdog.core.traffic import Direction, decode
from watchdog.dialect import read, received, sent

KINDS = typing.get_args(Observation)
DIRECTIONS = st.sampled_from(Direction)
PIECES = st.sampled_from(
    [
        "ok", "T:", "B:", "204.87", " /", "/205", "@:", "W:?", "E:0", "SD printing byte ", "9" * 40, "Resend:", "rs N",
        "echo:", "Error:", "!!", "//action:", "File opened:", " Size:", "Current file:", "busy:", "Cap:", "N", "M105", "*",
        "(", '"', ";", "\\x", "\x00", "\ufffd", " ", "-", ".", "nan", "Print time: ", "1d ", "M73 Progress: ", "%", "²", "٣",
        "host resumed after ", " s", "link closed:", "\ud800", "enqueueing \"", "X:1 Y:2 Z:3", "M92 X", "D0:",
        "Unknown command:",
    ]
)  # fmt: skip
ANY_TEXT = st.one_of(
    st.text(), st.text(st.characters()), st.lists(PIECES, max_size=12).map("".join), st.binary().map(decode)
)


def numbers(value: object) -> typing.Iterator[float]:
    """Every number inside an observation."""
    if isinstance(value, tuple):
        for part in value:
            yield from numbers(part)
    elif isinstance(value, int | float):
        yield value


@given(DIRECTIONS, ANY_TEXT)
@example(Direction.RECEIVED, "9" * 5000)
@example(Direction.RECEIVED, "SD printing byte " + "9" * 5000 + "/" + "9" * 5000)
@example(Direction.RECEIVED, "ok N" + "1" * 5000)
@example(Direction.SENT, "N" + "1" * 5000 + " G1")
@example(Direction.SENT, "G1 X" + "9" * 5000)
@example(Direction.SENT, "G" + "1" * 5000)
@example(Direction.REMARK, "host resumed after " + "9" * 5000 + " s")
def test_any_text_gives_observations_and_no_exception(direction: Direction, text: str) -> None:
    meaning = read(direction, text)
    assert isinstance(meaning, tuple)
    assert all(isinstance(told, KINDS) for told in meaning)
    assert all(math.isfinite(number) for told in meaning for number in numbers(told))
    assert meaning or not text.strip() or "\\x0" in text


@given(DIRECTIONS, ANY_TEXT)
def test_the_same_text_means_the_same_again(direction: Direction, text: str) -> None:
    """The first answer comes from the reader, the second from what is kept of it."""
    assert read(direction, text) == read(direction, text)


@pytest.mark.parametrize(
    "text", ["\x00" * 1_000_000, "T:1 /2 " * 150_000, "A" * 1_000_000, "(" * 1_000_000, "\\xff" * 250_000]
)
def test_a_megabyte_in_one_line_is_one_unread_line(text: str) -> None:
    """A baud mismatch can go on for minutes without a line end; the watch goes on."""
    (told,) = read(Direction.RECEIVED, text)
    assert isinstance(told, Unread)
    assert all(isinstance(told, KINDS) for told in read(Direction.SENT, text))


@given(st.lists(st.tuples(st.sampled_from([received.read, sent.read]), ANY_TEXT), max_size=5))
def test_no_reader_keeps_anything_between_lines(lines: list[tuple[typing.Callable[[str], object], str]]) -> None:
    alone = [reader(text) for reader, text in lines]
    assert [reader(text) for reader, text in reversed(lines)] == alone[::-1]
