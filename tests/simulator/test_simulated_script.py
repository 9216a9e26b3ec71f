"""Scripts as a teacher would write them, and the recordings that they make."""

import pytest

from watchdog.core.observations import Unread
from watchdog.core.traffic import Direction, read_line, write_line
from watchdog.dialect import read
from watchdog.simulator.faults import FAULTS
from watchdog.simulator.laboratory import EPOCH, run, sample_options
from watchdog.simulator.machine import SimulatedMachine
from watchdog.simulator.script import BadScript, Director, read_deed, read_script

LESSON = """
# a lesson
at 0 s              choose thumb-ring.gcode
at 5 s              start
at 40 % of the job  fault stall   # the card
at 1 h 5 min        heal stall
at 70.5 min         preheat 205 60
"""


def test_a_script_is_read_as_it_is_written() -> None:
    events = read_script(LESSON)
    assert [(event.seconds, event.share) for event in events] == [
        (0, None),
        (5, None),
        (None, 0.4),
        (3900, None),
        (4230, None),
    ]
    assert [event.told() for event in events] == [
        "panel: choose thumb-ring.gcode",
        "panel: start",
        "fault stall",
        "heal stall",
        "panel: preheat 205 60",
    ]


def test_every_mistake_is_told_at_once_with_its_line() -> None:
    with pytest.raises(BadScript) as wrong:
        read_script("at 5 s strat\nsoon start\nat 5 s fault stal\nat 6 s preheat warm\nat 7 s start now\nat 8 s choose")
    lines = str(wrong.value).splitlines()
    assert [line.partition(":")[0] for line in lines] == [f"line {number}" for number in (1, 2, 3, 4, 5, 6)]
    assert "did you mean 'start'?" in lines[0]
    assert "did you mean 'stall'?" in lines[2]


@pytest.mark.parametrize(
    ("said", "understood"),
    [
        ("panel start", ("start", "")),
        ("start", ("start", "")),
        ("heal", ("heal", "")),
        ("fault frozen-hot", ("fault", "frozen-hot")),
        ("choose cleat hook.gcode", ("choose", "cleat hook.gcode")),
        ("load 240", ("load", "240")),
    ],
)
def test_a_control_line_is_a_deed(said: str, understood: tuple[str, str]) -> None:
    assert read_deed(said) == understood


@pytest.mark.parametrize("step", [0.3, 7.0, 600.0])
def test_the_same_happens_however_the_time_is_cut_up(step: float) -> None:
    """A live demonstration and an offline recording must be the same lesson."""

    def lesson(step: float) -> tuple[bytes, list[tuple[float, str]]]:
        director = Director(SimulatedMachine(sample_options(), seed=9), LESSON)
        at = 0.0
        while at < 600.0:
            at = min(600.0, at + step)
            director.advance(at)
        return director.machine.take(), director.happened

    assert lesson(step) == lesson(1.0)


def test_a_share_strikes_where_the_script_says() -> None:
    director = Director(SimulatedMachine(sample_options(), seed=9), LESSON)
    director.advance(1000.0)
    assert director.machine.job_share() == pytest.approx(0.4, abs=0.03)
    assert [what for _, what in director.happened][-1] == "fault stall"


def test_the_same_seed_makes_the_same_recording_and_another_seed_another() -> None:
    first = run(LESSON, seed=4, duration=900.0)
    assert run(LESSON, seed=4, duration=900.0) == first
    assert run(LESSON, seed=5, duration=900.0) != first


def test_a_recording_is_in_order_and_in_our_format() -> None:
    lines = run(LESSON, seed=4, duration=900.0)
    stamps = [line.stamp for line in lines]
    assert stamps == sorted(stamps)
    assert stamps[0] == EPOCH
    assert {line.direction for line in lines} == set(Direction)
    for line in lines:
        again = read_line(write_line(line))
        assert again is not None
        assert again.text == line.text
        assert again.stamp == pytest.approx(line.stamp, abs=0.001)


def test_never_two_questions_are_open_at_once() -> None:
    """Unless the machine has been silent for long."""
    asked_at: float | None = None
    for line in run(LESSON, seed=4, duration=600.0):
        if line.direction is Direction.SENT:
            assert asked_at is None or line.stamp - asked_at > 9.9
            asked_at = line.stamp
        elif line.text.startswith("ok"):
            asked_at = None


@pytest.mark.parametrize("family", ["A", "A'", "B"])
@pytest.mark.parametrize("fault", [name for name in FAULTS if name not in ("bytes-lost", "cable-noisy", "noise")])
def test_everything_the_machine_says_is_read_by_the_dialect(family: str, fault: str) -> None:
    """Two readers of the same reference: a line that one says and the other cannot read is a mistake of one of them."""
    script = "at 2 s choose thumb-ring.gcode\nat 4 s start\n" if FAULTS[fault].in_job else ""
    script += f"at {'50 %' if FAULTS[fault].in_job else '10 s'} fault {fault}"
    lines = run(script, seed=1, duration=480.0, options=sample_options(family))
    assert not [
        line.text for line in lines for meaning in read(line.direction, line.text) if isinstance(meaning, Unread)
    ]


def test_a_listener_hears_what_comes_unasked_only() -> None:
    lines = run(LESSON, seed=4, duration=300.0, pace=None)
    assert not [line for line in lines if line.direction is Direction.SENT]
    assert "File selected" in [line.text for line in lines]


def test_armed_reports_come_without_asking_and_are_armed_again_after_a_restart() -> None:
    lines = run("at 100 s fault restart", seed=4, duration=200.0, reports=True)
    sent = [line.text for line in lines if line.direction is Direction.SENT]
    orders = [text for text in sent if text in {"M155 S2", "M27 S2"}]
    assert orders == ["M155 S2", "M27 S2"] * 2
    assert sent.count("M105") <= 4  # until the first report has come, and after the banner
    reports = [line for line in lines if line.text.startswith(" T:")]
    assert 90 < len(reports) <= 100
    assert sum(line.text == "Not SD printing" for line in lines) > 80


def test_a_pulled_cable_is_remarked() -> None:
    lines = run("at 60 s unplug\nat 120 s replug", seed=4, duration=200.0)
    remarks = [(round(line.stamp - EPOCH), line.text) for line in lines if line.direction is Direction.REMARK]
    assert remarks == [(0, "link opened"), (60, "link closed"), (120, "link opened"), (200, "watch stopped")]
    assert not [line for line in lines if 61 < line.stamp - EPOCH < 119]
