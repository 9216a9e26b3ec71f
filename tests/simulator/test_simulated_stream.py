"""Jobs that a computer streams to the simulated machine: numbers, checksums, resends, sleep, and the end of the program."""

import re
from dataclasses import replace
from itertools import pairwise

import pytest

from watchdog.core.traffic import Direction, TrafficLine
from watchdog.simulator.faults import FAULTS
from watchdog.simulator.gcode import checksum
from watchdog.simulator.laboratory import EPOCH, MOTION, Recording, record, sample_options
from watchdog.simulator.population import draw, healthy_day, lesson
from watchdog.simulator.scenes import RESTING, SCENES
from watchdog.simulator.script import BadScript, read_script
from watchdog.simulator.streaming import Streaming, lines_of

FAMILIES = ("A", "A'", "B")
NAME = "thumb-ring.gcode"
JOB = f"at 10 s stream {NAME}"
NUMBERED = re.compile(r"N(\d+) (.*)\*(\d+)\Z")


def streamed(
    script: str = JOB, *, family: str = "A", bit_errors: float = 0.0, duration: float = 900.0, **more: object
) -> Recording:
    options = replace(sample_options(family), bit_errors=bit_errors)
    pace = Streaming(**more)  # type: ignore[arg-type]
    return record(script, seed=5, duration=duration, options=options, streaming=pace, motion=1.0)


def sent(recording: Recording) -> list[str]:
    return [line.text for line in recording.lines if line.direction is Direction.SENT]


def said(recording: Recording) -> list[str]:
    return [line.text for line in recording.lines if line.direction is Direction.RECEIVED]


def at(line: TrafficLine) -> float:
    return line.stamp - EPOCH


@pytest.mark.parametrize("family", FAMILIES)
def test_a_job_arrives_whole_with_numbers_and_checksums(family: str) -> None:
    """What is recorded must be what such a program sends, or the watch is tried on traffic that does not exist."""
    recording = streamed(family=family)
    numbered = [
        found for line in sent(recording)[1:] if (found := NUMBERED.match(line))
    ]  # the first meets a board in its start
    assert [int(line[1]) for line in numbered] == list(range(len(numbered)))
    assert all(checksum(line[0].rpartition("*")[0].encode()) == int(line[3]) for line in numbered)
    assert numbered[0][2] == "M110 N0"
    content = dict(sample_options(family).files)[NAME]
    assert tuple(line[2] for line in numbered[1:]) == lines_of(content)
    assert len(recording.ends) == 1
    assert not any("Resend" in line for line in said(recording))


@pytest.mark.parametrize("family", FAMILIES)
def test_damaged_lines_are_asked_for_again_and_the_job_still_arrives_whole(family: str) -> None:
    """The errors are the controller's own findings: the right bytes were sent, wrong ones came."""
    recording = streamed(family=family, bit_errors=1 / 2000, duration=2400.0)
    again = [line for line in said(recording) if line.startswith("Resend")]
    assert len(again) >= 5
    numbers = [int(found[1]) for line in sent(recording) if (found := NUMBERED.match(line))]
    assert len(numbers) > len(set(numbers)), "nothing was sent again"
    assert set(numbers) == set(range(max(numbers) + 1))
    assert len(recording.ends) == 1
    clean = streamed(family=family)
    # all plastic is laid, once; a line whose `ok` was lost may be laid twice by no family
    assert recording.readings[-1][2] == pytest.approx(clean.readings[-1][2], abs=3)


def test_a_noisy_cable_makes_one_line_in_fifty_or_so_be_sent_again() -> None:
    """Far above the 0.2 % that are routine, far below what ends a job at once."""
    recording = streamed("at 10 s stream cleat-hook.gcode\nat 5 % of the job fault cable-noisy", duration=1500.0)
    struck = next(when for when, what in recording.happened if "noisy" in what)
    late = [line for line in recording.lines if at(line) > struck]
    refused = sum(line.text.startswith("Resend") for line in late)
    share = refused / sum(NUMBERED.match(line.text) is not None for line in late)
    assert 0.01 < share < 0.05


def test_bytes_that_do_not_arrive_are_asked_for_again_as_well() -> None:
    recording = streamed(f"{JOB}\nat 5 % of the job fault bytes-lost", duration=1500.0)
    assert sum(line.startswith("Resend") for line in said(recording)) >= 5
    healed = streamed(f"{JOB}\nat 5 % of the job fault bytes-lost\nat 300 s heal bytes-lost", duration=1500.0)
    late = [line.text for line in healed.lines if at(line) > 330 and line.direction is Direction.RECEIVED]
    assert late
    assert not any(line.startswith("Resend") for line in late)


@pytest.mark.parametrize("every", [1.0, 5.0])
def test_temperatures_are_asked_for_at_the_programs_own_pace(every: float) -> None:
    asked = [at(line) for line in streamed(asks=every).lines if line.text == "M105"]
    gaps = [after - before for before, after in pairwise(asked)]
    assert min(gaps) >= every - 0.01
    assert sorted(gaps)[len(gaps) // 2] < every + 1.0


def test_questions_may_be_numbered_too() -> None:
    recording = streamed(numbers_questions=True)
    assert "M105" not in sent(recording)
    assert sum(" M105*" in line for line in sent(recording)) > 50


@pytest.mark.parametrize("watches", [True, False])
def test_a_sleeping_computer_logs_nothing_and_then_goes_on(watches: bool) -> None:
    """The machine keeps its heat meanwhile; only a watch on the same computer can say that it slept."""
    recording = streamed(f"{JOB}\nat 40 % of the job fault computer-asleep", duration=1500.0, watches=watches)
    slept = next(when for when, what in recording.happened if "asleep" in what)
    after = [line for line in recording.lines if at(line) > slept + 1]
    woke = at(after[0])
    assert 90 <= woke - slept <= 415
    remarks = [line.text for line in after if line.text.startswith("host resumed after")]
    assert remarks == ([f"host resumed after {woke - slept:.0f} s"] if watches else [])
    heat = next(float(found[1]) for line in after if (found := re.search(r"T:([\d.]+)", line.text)))
    assert heat > 190
    assert len(recording.ends) == 1


def test_when_the_program_is_gone_the_log_ends_and_the_heat_stays() -> None:
    recording = streamed(f"{JOB}\nat 40 % of the job fault program-gone")
    gone = next(when for when, what in recording.happened if "gone" in what)
    assert [line.text for line in recording.lines if at(line) > gone + 0.5] == ["watch stopped"]
    assert recording.ends == []


def test_a_job_without_places_feeds_where_it_stands() -> None:
    recording = streamed(f"{JOB}\nat 40 % of the job fault places-lost")
    struck = next(when for when, what in recording.happened if "places" in what)
    moves = [line.text for line in recording.lines if at(line) > struck + 1 and re.match(r"N\d+ G1 ", line.text)]
    assert sum(" E" in line for line in moves) > 20
    assert not any(" X" in line or " Y" in line for line in moves)


def test_a_program_gives_up_when_the_machine_starts_anew() -> None:
    recording = streamed(f"{JOB}\nat 40 % of the job fault restart")
    banner = [at(line) for line in recording.lines if line.text == "start"][-1]
    later = [line.text for line in recording.lines if at(line) > banner and line.direction is Direction.SENT]
    assert later[0] == "N0 M110 N0*125"
    assert not any(" G1 " in line for line in later)


def test_a_job_can_be_held_and_given_up_at_the_computer() -> None:
    held = streamed(f"{JOB}\nat 300 s stream-hold\nat 330 s stream-on")
    quiet = [line.text for line in held.lines if 300.1 < at(line) < 330 and line.direction is Direction.SENT]
    assert quiet
    assert set(quiet) == {"M105"}
    assert len(held.ends) == 1
    stopped = streamed(f"{JOB}\nat 300 s stream-stop")
    assert [line.split(" ", 1)[1].rpartition("*")[0] for line in sent(stopped) if NUMBERED.match(line)][-3:] == [
        "M104 S0",
        "M140 S0",
        "M84",
    ]
    assert stopped.ends[0] == pytest.approx(305, abs=5)  # the motors go off when the last move is over


def test_the_wheel_in_the_filaments_path_turns_with_what_is_laid_and_stands_in_a_jam() -> None:
    """The commanded filament is fed by a healthy machine; a blocked one feeds none, whatever its moves say."""
    healthy = streamed()
    assert {name for _, name, _ in healthy.readings} == {MOTION}
    assert [moment.elapsed for moment, _, _ in healthy.readings[:3]] == [1.0, 2.0, 3.0]
    commanded = sum(abs(float(e)) for line in sent(healthy) for e in re.findall(r" E(-?[\d.]+)", line))
    assert healthy.readings[-1][2] == pytest.approx(commanded, rel=0.05)
    jammed = streamed(f"{JOB}\nat 40 % of the job fault nozzle-jam")
    struck = next(when for when, what in jammed.happened if "jam" in what)
    since = [turned for moment, _, turned in jammed.readings if moment.elapsed > struck + 2]
    assert len(since) > 100
    assert since[0] == since[-1] > 0
    card = f"at 10 s choose {NAME}\nat 15 s start\nat 40 % of the job fault tangle"
    grips = [
        turned for _, _, turned in record(card, duration=500.0, options=sample_options(), motion=0.5).readings[300:420]
    ]
    stands = sum(before == after for before, after in pairwise(grips))
    assert 20 < stands < 110


def test_without_a_sensor_nothing_is_read() -> None:
    assert record(JOB.replace("stream", "choose"), duration=30.0).readings == []


def test_a_script_that_streams_needs_a_computer_and_a_file() -> None:
    with pytest.raises(BadScript, match="stream needs the name of a file"):
        read_script("at 5 s stream")
    with pytest.raises(ValueError, match="no computer streams to this machine"):
        record(JOB, duration=30.0)
    with pytest.raises(KeyError):
        streamed("at 5 s stream nothing.gcode", duration=30.0)
    assert read_script(JOB)[0].told() == f"stream {NAME}"


@pytest.mark.parametrize("fault", ["computer-asleep", "program-gone", "places-lost"])
def test_a_fault_of_the_computer_leaves_a_machine_without_one_alone(fault: str) -> None:
    script = f"at 5 s choose {NAME}\nat 8 s start"
    plain = record(script, duration=120.0)
    struck = record(f"{script}\nat 60 s fault {fault}\nat 90 s heal", duration=120.0)
    assert [line.text for line in struck.lines] == [line.text for line in plain.lines]
    assert FAULTS[fault].in_job


def test_machines_are_drawn_with_and_without_a_computer() -> None:
    """Nothing else about a machine depends on it, so that the same seed can be looked at both ways."""
    machines = [draw(seed) for seed in range(200)]
    share = sum(machine.streaming is not None for machine in machines) / len(machines)
    assert 0.12 < share < 0.28
    assert {machine.streaming.asks for machine in machines if machine.streaming} == {1.0, 2.0, 5.0, 10.0}
    assert any(machine.motion for machine in machines)
    both = draw(3, streamed=True, motion=True), draw(3, streamed=False, motion=False)
    assert replace(both[0].options, bit_errors=0.0) == both[1].options
    assert (both[1].streaming, both[1].motion) == (None, None)
    noisy = [machine.options.bit_errors for machine in machines if machine.options.bit_errors]
    assert all(0.0005 <= share * 35 <= 0.002 for share in noisy)
    for machine in machines:
        script = healthy_day(machine, 4 * 3600.0)
        assert read_script(script)
        assert ("choose" in script or " start" in script) == (machine.streaming is None) or not script
        assert read_script(lesson(machine, "stall", in_job=True))[-1].share is not None


def test_every_scene_happens_as_it_says() -> None:
    """A scene that does not take place finds no false alarm either."""
    for name in ("slow-bed", "long-dwell", "second-job-at-once"):
        scene = SCENES[name]
        machine = scene.machine(draw(11, streamed=True))
        recording = record(
            scene.script(machine),
            seed=11,
            duration=scene.seconds,
            options=machine.options,
            streaming=machine.streaming,
            enough=lambda now, so_far, jobs=scene.jobs: len(so_far.ends) >= jobs,  # type: ignore[misc]
        )
        assert len(recording.ends) >= scene.jobs
        if name == "slow-bed":
            first = next(at(line) for line in recording.lines if " M190 " in line.text)
            warm = next(at(line) for line in recording.lines if " M109 " in line.text)
            assert 600 < warm - first < 900
        elif name == "long-dwell":
            rest = next(nth for nth, line in enumerate(recording.lines) if " G4 S420*" in line.text)
            busy = [line for line in recording.lines[rest:] if "busy" in line.text]
            assert at(busy[-1]) - at(busy[0]) > 400
            assert RESTING in dict(machine.options.files)


def test_the_same_seed_gives_the_same_stream() -> None:
    one, two = (streamed(bit_errors=1 / 2000, duration=400.0) for _ in range(2))
    assert one.lines == two.lines
    assert one.readings == two.readings


def test_an_idle_computer_asks_and_does_no_more() -> None:
    recording = streamed("", duration=60.0)
    assert set(sent(recording)) == {"N0 M110 N0*125", "M105"}
