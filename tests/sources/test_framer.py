"""The line splitter: any bytes, cut up in any way."""

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from watchdog.core.moment import Moment
from watchdog.sources.framer import CUT, ENDLESS, ENDLESS_NULS, LIMIT, NULS, Framer

NOON = Moment(0.0, 1_772_448_000.0)


def texts(chunks: list[bytes], limit: int = LIMIT) -> list[str]:
    framer = Framer(limit)
    return [line.text for chunk in chunks for line in framer.feed(chunk, NOON)]


def cut_up(whole: bytes, places: list[int]) -> list[bytes]:
    edges = [0, *sorted(place % (len(whole) + 1) for place in places), len(whole)]
    return [whole[start:end] for start, end in pairwise(edges)]


wire = st.lists(
    st.sampled_from(
        [b"ok T:20.1 /0.0", b"\r\n", b"\n", b"\r", b"\0", b"\0\0\0", b"\xff\xfe", "°".encode(), b"x" * 20, b"start"]
    ),
    max_size=30,
).map(b"".join)


@given(st.one_of(wire, st.binary(max_size=200)), st.lists(st.integers(0, 10_000), max_size=12))
def test_the_same_bytes_give_the_same_lines_however_they_arrive(whole: bytes, places: list[int]) -> None:
    """The operating system cuts and joins reads as it likes; a message must not depend on it."""
    assert texts(cut_up(whole, places), limit=16) == texts([whole], limit=16)
    assert texts([whole[n : n + 1] for n in range(len(whole))], limit=16) == texts([whole], limit=16)


@given(st.lists(st.binary(max_size=64), max_size=40))
def test_any_bytes_make_lines_and_no_more_is_held_than_the_limit(chunks: list[bytes]) -> None:
    framer = Framer(limit=32)
    for chunk in chunks:
        for line in framer.feed(chunk, NOON):
            assert line.text
            assert "\n" not in line.text
            assert "\r" not in line.text
            assert "\0" not in line.text
        assert len(framer._kept) <= 32


def test_all_three_line_ends_end_a_line_once() -> None:
    assert texts([b"a\nb\r\nc\rd\r\n\r\ne\n"]) == ["a", "b", "c", "d", "e"]
    assert texts([b"a\r", b"\nb\n"]) == ["a", "b"]


def test_a_line_bears_the_time_of_its_first_byte() -> None:
    """A line that trickles in over seconds began when it began."""
    framer = Framer()
    assert framer.feed(b"ok T:2", Moment(1.0, 101.0)) == []
    (line, following) = framer.feed(b"0.1 /0.0\nok\n", Moment(2.0, 102.0))
    assert (line.text, line.at) == ("ok T:20.1 /0.0", Moment(1.0, 101.0))
    assert following.at == Moment(2.0, 102.0)


def test_a_line_of_exactly_the_limit_is_whole_and_a_longer_one_is_marked() -> None:
    assert texts([b"x" * LIMIT + b"\n"]) == ["x" * LIMIT]
    assert texts([b"x" * (LIMIT + 1) + b"\nok\n"]) == ["x" * LIMIT + CUT, "ok"]


def test_a_line_of_a_megabyte_is_cut_once_and_the_next_line_is_read() -> None:
    framer = Framer()
    heard = []
    for _ in range(1000):
        heard += framer.feed(b"y" * 1000, NOON)
    heard += framer.feed(b"\nok\n", NOON)
    assert [line.text for line in heard] == ["y" * LIMIT + CUT, "ok"]
    assert framer.cut == 1


def test_rubbish_without_any_line_end_is_heard_again_and_again() -> None:
    """A wrong speed is no silence."""
    framer = Framer()
    heard = [line for _ in range(3 * ENDLESS // 4096) for line in framer.feed(b"\xfe" * 4096, NOON)]
    assert len(heard) == 3
    assert framer.cut == 3


def test_a_stray_nul_does_not_hide_the_banner() -> None:
    """A controller that restarts often sends one; missing `start` would miss the restart."""
    framer = Framer()
    assert [line.text for line in framer.feed(b"\0\0start\n", NOON)] == ["start"]
    assert framer.nuls == 2


def test_a_flood_of_nuls_is_told_in_few_lines() -> None:
    framer = Framer()
    heard = [line.text for _ in range(32) for line in framer.feed(b"\0" * (ENDLESS_NULS // 16), NOON)]
    assert heard == [NULS, NULS]
    assert [line.text for line in framer.feed(b"\0\nok\n", NOON)] == [NULS, "ok"]
    assert framer.nuls == 2 * ENDLESS_NULS + 1


def test_bytes_that_are_no_text_are_escaped() -> None:
    assert texts([b"T:20\xb0C\n", "21 °C\n".encode()]) == ["T:20\\xb0C", "21 °C"]


def test_an_unfinished_line_can_be_dropped() -> None:
    """The cable was pulled within `T:205`: `T:2` is no temperature."""
    framer = Framer()
    framer.feed(b"ok T:2", NOON)
    assert framer.pending == 6
    assert framer.drop() == "ok T:2"
    assert framer.pending == 0
    assert [line.text for line in framer.feed(b"start\n", NOON)] == ["start"]
