"""Lines that somebody sent: numbers, checksums, words, texts."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.core.observations import Command, Unread
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.dialect.sent import TEXT_CODES, checksum

LINES: list[tuple[str, Command]] = [
    ("M105", Command("M105", (), "")),
    ("N17 M105*17", Command("M105", (), "", 17, True)),
    ("N17 M105 *49", Command("M105", (), "", 17, True)),
    ("N17 M105*18", Command("M105", (), "", 17, False)),
    ("N17 M105*12345", Command("M105", (), "", 17, None)),
    ("N17 M105", Command("M105", (), "", 17, None)),
    ("N18 M27*47", Command("M27", (), "", 18, True)),
    ("N0 M110 N0*125", Command("M110", (("N", 0.0),), "N0", 0, True)),
    (
        "N2041 G1 X41.250 Y-7.5 E0.03125 F2400*45",
        Command(
            "G1",
            (("X", 41.25), ("Y", -7.5), ("E", 0.03125), ("F", 2400.0)),
            "X41.250 Y-7.5 E0.03125 F2400",
            2041,
            True,
        ),
    ),
    ("G1X4Y5E.2", Command("G1", (("X", 4.0), ("Y", 5.0), ("E", 0.2)), "X4Y5E.2")),
    ("g01 x+4 y5. ; over there", Command("G1", (("X", 4.0), ("Y", 5.0)), "x+4 y5.")),
    ("G1 X1 (two 2) Y3", Command("G1", (("X", 1.0), ("Y", 3.0)), "X1 (two 2) Y3")),
    ("G1 E1e-5 X2", Command("G1", (("E", 1e-5), ("X", 2.0)), "E1e-5 X2")),
    ("G28 X W", Command("G28", (("X", None), ("W", None)), "X W")),
    ("M0105", Command("M105", (), "")),
    ("M114.1", Command("M114.1", (), "")),
    ("T0", Command("T0", (), "")),
    ("T?", Command("T", (), "?")),
    ("X10 Y20", Command("", (("X", 10.0), ("Y", 20.0)), "X10 Y20")),
    ("", Command("", (), "")),
    ("; a comment with M112 and *12", Command("", (), "")),
    ("G1 X1 ; size 3*12", Command("G1", (("X", 1.0),), "X1")),
    ("M117 Layer 3 of 90", Command("M117", (), "Layer 3 of 90")),
    ("M118 E1 T2", Command("M118", (), "E1 T2")),
    ("M0 press the button 5 times", Command("M0", (), "press the button 5 times")),
    ("M1 S5", Command("M1", (), "S5")),
    ("M23 CUP2~1.GCO", Command("M23", (), "CUP2~1.GCO")),
    ("N3 M23 hull mould (2).gcode*35", Command("M23", (), "hull mould (2).gcode", 3, False)),
    ("M117 Sch\\xf6n 3", Command("M117", (), "Sch\\xf6n 3")),
    ("M104 S205 T0", Command("M104", (("S", 205.0), ("T", 0.0)), "S205 T0")),
    ('M550 P"T5 X2"', Command("M550", (("P", None),), 'P"T5 X2"')),
]


@pytest.mark.parametrize(("line", "command"), LINES, ids=[line or "blank" for line, _ in LINES])
def test_a_sent_line_is_taken_apart(line: str, command: Command) -> None:
    assert read(Direction.SENT, line) == (command,)


def test_a_running_sum_gives_the_published_checksums() -> None:
    """Worked by hand, byte by byte: 4E 7F 48 68 25 14 24 11."""
    assert [checksum("N17 M105"[:length]) for length in range(1, 9)] == [0x4E, 0x7F, 0x48, 0x68, 0x25, 0x14, 0x24, 0x11]


def test_a_broken_byte_makes_the_checksum_one_that_cannot_be_told() -> None:
    assert read(Direction.SENT, "N5 M117 \\xe4*99") == (Command("M117", (), "\\xe4", 5, None),)


@pytest.mark.parametrize("line", ["hello machine", "$X", "!", "~", "?"])
def test_what_is_no_command_is_kept_unread(line: str) -> None:
    assert read(Direction.SENT, line) == (Unread(line),)


@pytest.mark.parametrize("line", ["G1 X1\x00", "G1 X\\xff1", "M117 a\x01b", "\x18"])
def test_a_damaged_command_is_not_believed(line: str) -> None:
    """A target that lost a digit on its way into a log must not look like a heater set."""
    assert read(Direction.SENT, line) == (Unread(line, True),)


WORDS = st.lists(
    st.tuples(st.sampled_from("XYZEFS"), st.decimals(-9999, 9999, places=3)),
    min_size=0,
    max_size=6,
    unique_by=lambda w: w[0],
)


@given(st.integers(0, 10**9), st.integers(0, 999), WORDS, st.sampled_from(["", " "]))
def test_every_numbered_line_with_its_own_checksum_is_good(
    number: int, code: int, words: list[tuple[str, object]], gap: str
) -> None:
    spoken = f"N{number} G{code}" + "".join(f"{gap}{letter}{value}" for letter, value in words)
    (told,) = read(Direction.SENT, f"{spoken}*{checksum(spoken)}")
    assert isinstance(told, Command)
    assert (told.number, told.checksum_good, told.code) == (number, True, f"G{code}")
    assert told.words == tuple((letter, float(str(value))) for letter, value in words)


@given(st.integers(0, 10**6), st.integers(0, 7), st.integers(1, 255))
def test_one_changed_byte_is_always_found(number: int, place: int, change: int) -> None:
    spoken = f"N{number} M105"
    wrong = checksum(spoken) ^ change
    (told,) = read(Direction.SENT, f"{spoken}*{wrong}")
    assert isinstance(told, Command)
    assert told.checksum_good is False


@given(
    st.sampled_from(sorted(TEXT_CODES)),
    st.text(st.characters(min_codepoint=32, max_codepoint=126, exclude_characters=";*\\")),
)
def test_no_number_is_ever_read_from_a_text(code: str, text: str) -> None:
    """A file called `S250` is no heater target."""
    (told,) = read(Direction.SENT, f"{code} {text}")
    assert isinstance(told, Command)
    assert (told.code, told.words) == (code, ())
