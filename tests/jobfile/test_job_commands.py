"""A file's own commands are those that a host sends of it, however the file is written."""

import subprocess
import sys
from array import array
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.core.commands import BEGINNING, EVERY, Commands, Sent, after, from_bytes
from watchdog.core.observations import Command
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.jobfile.commands import Reading, commands_of
from watchdog.jobfile.errand import PlanTrouble
from watchdog.simulator.jobs import SAMPLES

RING = SAMPLES["thumb-ring.gcode"]()
HOOK = SAMPLES["cleat-hook.gcode"]()


def read_whole(content: bytes, piece: int = 1 << 20) -> Commands:
    reading = Reading()
    for at in range(0, len(content), piece):
        reading.feed(content[at : at + piece])
    return reading.finish()


def sent_of(lines: list[str]) -> Sent:
    """What a watch makes of these lines on the wire."""
    sent = Sent()
    for line in lines:
        for command in read(Direction.SENT, line):
            if isinstance(command, Command):
                sent = after(sent, command.code, command.text)
    return sent


def marks_of(commands: Commands) -> list[tuple[int, int]]:
    return list(zip(array("I", commands.chunks), array("I", commands.ends), strict=True))


WORDS = st.lists(
    st.tuples(
        st.sampled_from("XYZEFSP"),
        st.floats(-300, 300).map(lambda number: f"{number:.3f}") | st.just("") | st.just(".5"),
    ),
    max_size=5,
)
CODES = st.sampled_from(
    ["G0", "G1", "G01", "g1", "G28", "M104", "M105", "M73", "M400", "M106", "T0", "M117", "G92", "M0", "M204"]
)
BLANKS = st.sampled_from(["", " ", "  ", "\t"])
ENDS = st.sampled_from(["", " ", " ; a comment", ";TYPE:wall", " (here)", "  ;", "\r"])
COMMANDS = st.builds(
    lambda before, code, words, between, end: before + code + "".join(between + a + b for a, b in words) + end,
    BLANKS, CODES, WORDS, BLANKS, ENDS,
)  # fmt: skip
FILES = st.lists(COMMANDS | st.sampled_from(["", "; layer 7", "(nothing)", "%"]), max_size=60)


def numbered(number: int, line: str) -> str:
    text = f"N{number} {line.partition(';')[0].strip()}"
    total = 0
    for byte in text.encode():
        total ^= byte
    return f"{text}*{total}"


@given(FILES)
def test_what_is_read_from_a_file_is_what_is_read_from_the_wire(lines: list[str]) -> None:
    """Where the two differ by one blank, no stream would ever be recognised."""
    commands = read_whole("\n".join(lines).encode())
    for wire in (lines, [numbered(number, line) for number, line in enumerate(lines) if line.strip(" \t\r")]):
        sent = sent_of(wire)
        assert sent.own == commands.total
        assert list(sent.last) == array("I", commands.first).tolist()[-12:]
        assert list(sent.marks) == marks_of(commands)[-4:]


@given(st.integers(1, 5000))
def test_the_pieces_in_which_a_file_is_read_do_not_matter(piece: int) -> None:
    assert read_whole(RING, piece) == read_whole(RING)


@pytest.mark.parametrize("content", [RING, HOOK], ids=["ring", "hook"])
def test_places_are_exact_in_the_beginning_and_at_every_sixty_fourth_command(content: bytes) -> None:
    commands = read_whole(content)
    ends, at, sent = [0], 0, Sent()
    for line in content.decode().splitlines(keepends=True):
        at += len(line)
        before = sent.own
        sent = after(sent, *(lambda c: (c.code, c.text))(next(iter(read(Direction.SENT, line)))))  # type: ignore[union-attr]
        if sent.own > before:
            ends.append(at)
    assert commands.total == len(ends) - 1
    found = [commands.byte_at(count) for count in range(commands.total + 1)]
    assert found == sorted(found)
    for count, byte in enumerate(ends):
        if count <= BEGINNING or (count - BEGINNING) % EVERY == 0 or count == commands.total:
            assert found[count] == byte
        else:
            assert abs(found[count] - byte) < 2048
    assert commands.byte_at(-5) == 0
    assert commands.byte_at(10**9) == ends[-1]


@given(st.binary(max_size=3000), st.integers(1, 700))
def test_any_bytes_are_read_without_an_end(rubbish: bytes, piece: int) -> None:
    commands = read_whole(rubbish, piece)
    assert 0 <= commands.byte_at(commands.total) <= len(rubbish)
    assert commands.total <= rubbish.count(b"\n") + rubbish.count(b"\r") + 1


def test_a_line_without_an_end_does_not_fill_the_memory() -> None:
    reading = Reading()
    for _ in range(200):
        reading.feed(b"x" * 10_000)
        assert len(reading._held) < 100_000
    assert reading.finish().total == 0


@given(st.integers(0, 4000))
def test_what_was_kept_is_read_again_and_refused_when_it_is_cut(cut: int) -> None:
    commands = read_whole(RING)
    kept = commands.to_bytes()
    assert from_bytes(kept) == commands
    if cut < len(kept):
        with pytest.raises(ValueError, match="no kept commands"):
            from_bytes(kept[:cut])


def test_a_file_is_read_in_a_process_of_its_own(tmp_path: Path) -> None:
    place = tmp_path / "ring.gcode"
    place.write_bytes(RING)
    digest, commands = commands_of(place)
    assert commands == read_whole(RING)
    assert digest == subprocess.check_output(["sha256sum", place], text=True).split()[0]


@pytest.mark.parametrize("name", ["gone.gcode", "folder", "nul\0.gcode"])
def test_what_cannot_be_read_is_told(tmp_path: Path, name: str) -> None:
    (tmp_path / "folder").mkdir()
    with pytest.raises(PlanTrouble):
        commands_of(tmp_path / name)


def test_a_file_that_takes_too_long_is_given_up(tmp_path: Path) -> None:
    (tmp_path / "ring.gcode").write_bytes(RING)
    with pytest.raises(PlanTrouble, match="too long"):
        commands_of(tmp_path / "ring.gcode", seconds=0.001)


def test_the_reader_does_without_numpy() -> None:
    """It runs where the planner has none, and in the service's own process its types are imported."""
    found = subprocess.check_output(
        [sys.executable, "-c", "import sys, watchdog.jobfile.commands; print('numpy' in sys.modules)"], text=True
    )
    assert found.strip() == "False"
