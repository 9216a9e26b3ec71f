"""Whole recordings: how often each meaning comes, and that nothing in a good one goes unread."""

import json
import tomllib
from collections import Counter
from pathlib import Path

import pytest

from watchdog.core.observations import Command, Temperatures, Unread
from watchdog.core.traffic import Direction, TrafficLine, read_line
from watchdog.dialect import read

RECORDINGS = sorted((Path(__file__).parent.parent / "recordings" / "dialect").glob("*.traffic"))
NOISY = "noise-from-a-loose-cable"


def lines(recording: Path) -> list[TrafficLine]:
    parsed = [read_line(text) for text in recording.read_text("utf-8").split("\n")[:-1]]
    assert None not in parsed
    return [line for line in parsed if line is not None]


def counted(recording: Path) -> str:
    """How often each observation comes, for each direction; one JSON object a line."""
    counts: dict[str, Counter[str]] = {direction.value: Counter() for direction in Direction}
    for line in lines(recording):
        counts[line.direction.value].update(type(told).__name__ for told in read(line.direction, line.text))
    return "".join(
        json.dumps(
            {
                "direction": direction,
                "lines": sum(line.direction == direction for line in lines(recording)),
                **dict(sorted(seen.items())),
            }
        )
        + "\n"
        for direction, seen in counts.items()
    )


@pytest.mark.parametrize("recording", RECORDINGS, ids=lambda file: file.stem)
def test_a_recording_means_what_its_golden_says(recording: Path, request: pytest.FixtureRequest) -> None:
    golden = recording.with_suffix(".expected.jsonl")
    if request.config.getoption("--regold", default=False):
        golden.write_text(counted(recording), "utf-8")
    assert counted(recording) == golden.read_text("utf-8")


@pytest.mark.parametrize("recording", RECORDINGS, ids=lambda file: file.stem)
def test_every_recording_says_where_it_comes_from(recording: Path) -> None:
    described = tomllib.loads(recording.with_suffix(".toml").read_text("utf-8"))
    assert {"controller", "taken", "how", "odd"} <= described.keys()


@pytest.mark.parametrize("recording", [file for file in RECORDINGS if file.stem != NOISY], ids=lambda file: file.stem)
def test_nothing_in_a_good_recording_goes_unread(recording: Path) -> None:
    unread = [
        line.text for line in lines(recording) for told in read(line.direction, line.text) if isinstance(told, Unread)
    ]
    assert unread == []


def test_noise_gives_no_wrong_temperature() -> None:
    """In the noisy recording the nozzle stands at 205.02 °C all the time."""
    (recording,) = [file for file in RECORDINGS if file.stem == NOISY]
    told = [told for line in lines(recording) for told in read(line.direction, line.text)]
    heats = [heat.nozzle.now for heat in told if isinstance(heat, Temperatures) and heat.nozzle]
    assert heats
    assert set(heats) == {205.02}


def test_in_the_streamed_recording_exactly_the_spoilt_line_fails_its_checksum() -> None:
    (recording,) = [file for file in RECORDINGS if file.stem.startswith("streamed")]
    sent = [told for line in lines(recording) for told in read(line.direction, line.text) if isinstance(told, Command)]
    assert [command.checksum_good for command in sent].count(False) == 1
    assert all(command.checksum_good is not None for command in sent)
