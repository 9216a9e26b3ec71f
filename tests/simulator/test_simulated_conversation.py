"""What each controller family says to the same questions and deeds, word for word."""

import pytest

from watchdog.simulator.gcode import checksum
from watchdog.simulator.machine import Options, SimulatedMachine
from watchdog.simulator.voices import FAMILIES, clock_text

JOB = b"M104 S40\nM109 S40\nG90\nG1 F1200\nG1 X60\nG1 X0\nG4 S5\nM104 S0\n"
LONG = b"G90\nG1 F600\n" + b"G1 X1.5\nG1 X0\n" * 3000


def made(family: str, *, job: bytes = JOB, **more: object) -> SimulatedMachine:
    machine = SimulatedMachine(Options(family=family, files=(("cleat hook.gcode", job),), **more), seed=3)  # type: ignore[arg-type]
    machine.advance(2.0)
    return machine


def said(machine: SimulatedMachine, line: str = "", *, after: float = 0.0) -> list[str]:
    """Send `line`, let `after` s pass, and what was said since the last call."""
    if line:
        machine.receive(line.encode() + b"\n")
    if after:
        machine.advance(machine.now + after)
    return machine.take().decode().replace("\r\n", "\n").splitlines()


def numbered(number: int, command: str) -> str:
    line = f"N{number} {command}"
    return f"{line}*{checksum(line.encode())}"


BANNERS = {
    "A": ["start", "PowerUp", "echo: Free Memory: 5120  PlannerBufferBytes: 1232", "echo:SD card ok"],
    "A'": ["start", "echo:PowerUp", "echo: Free Memory: 1872  PlannerBufferBytes: 1312"],
    "B": ["start", "PowerUp", "Info:Free memory 41232", "Card successfully initialized.", "wait", "wait"],
}
CHOSEN = {
    "A": ["echo:Now fresh file: cleath~1.gco", f"File opened: cleath~1.gco Size: {len(JOB)}", "File selected"],
    "A'": [
        'echo:enqueueing "M23 cleath~1.gco"',
        "echo:Now fresh file: cleath~1.gco",
        f"File opened: cleath~1.gco Size: {len(JOB)}",
        "File selected",
    ],
    "B": [f"File opened:cleath~1.gco Size:{len(JOB)}", "File selected"],
}
STARTED = {"A": [], "A'": ['echo:enqueueing "M24"'], "B": []}


@pytest.mark.parametrize("family", FAMILIES)
def test_switching_on_brings_the_banner(family: str) -> None:
    assert said(made(family)) == BANNERS[family]


@pytest.mark.parametrize("family", FAMILIES)
def test_choosing_and_starting_at_the_panel_says_what_the_family_says(family: str) -> None:
    machine = made(family)
    said(machine)
    machine.panel.choose("cleat hook.gcode")
    assert said(machine) == CHOSEN[family]
    machine.panel.start()
    assert said(machine) == STARTED[family]


@pytest.mark.parametrize(
    ("family", "answer"),
    [
        ("A", ["ok T:22.15 /0.00 B:22.01 /0.00 @:0 B@:0"]),
        ("A'", ["ok T:22.2 /0.0 B:22.0 /0.0 T0:22.2 /0.0 @:0 B@:0 P:0.0 A:31.0"]),
        ("B", ["ok", "T:22.15 /0 B:22.01 /0 B@:0 @:0"]),
    ],
)
def test_the_temperatures_come_in_the_familys_shape(family: str, answer: list[str]) -> None:
    machine = made(family)
    said(machine)
    assert said(machine, "M105") == answer


@pytest.mark.parametrize(
    ("family", "nothing_open", "chosen", "running"),
    [
        ("A", ["Not SD printing"], ["SD printing byte 0/4812"], ["SD printing byte {}/4812"]),
        ("A'", ["Not SD printing"], ["Not SD printing"], ["line.gco", "SD printing byte {}/4812", "0:01"]),
        ("B", ["SD printing byte 0/0"], ["SD printing byte 0/4812"], ["SD printing byte {}/4812"]),
    ],
)
def test_the_progress_traps_of_each_family(
    family: str, nothing_open: list[str], chosen: list[str], running: list[str]
) -> None:
    """An open file that nobody started looks like a job in A and B; B speaks of bytes with nothing open at all."""
    job = LONG[:4812]
    machine = SimulatedMachine(Options(family=family, files=(("line.gco", job),)), seed=3)
    machine.advance(2.0)

    def progress() -> list[str]:
        machine.take()
        return [line for line in said(machine, "M27", after=9.0) if line not in ("ok", "wait")]

    assert progress() == nothing_open
    machine.panel.choose("line.gco")
    assert progress() == chosen
    machine.panel.start()
    machine.advance(machine.now + 62.0)
    told = progress()
    moved = next(line for line in told if "byte" in line).split()[3].split("/")[0]
    assert 0 < int(moved) < 4812
    assert told == [line.format(moved) for line in running]


@pytest.mark.parametrize(
    ("family", "held"), [("A", "SD printing byte"), ("A'", "SD print paused"), ("B", "SD printing byte")]
)
def test_a_held_job_stands_still_and_goes_on(family: str, held: str) -> None:
    machine = made(family, job=LONG)
    machine.panel.choose("cleat hook.gcode")
    machine.panel.start()
    machine.advance(60.0)
    said(machine)
    machine.panel.pause()
    assert said(machine) == (["//action:paused"] if family == "A'" else [])
    machine.advance(120.0)
    stands = machine.card.byte(machine.now)
    said(machine)
    assert any(line.startswith(held) for line in said(machine, "M27"))
    machine.advance(180.0)
    assert machine.card.byte(machine.now) == stands
    said(machine)
    machine.panel.resume()
    assert [line for line in said(machine) if line != "wait"] == (["//action:resumed"] if family == "A'" else [])
    machine.advance(240.0)
    assert machine.card.byte(machine.now) > stands


def test_family_b_tells_the_target_of_a_paused_nozzle_negative_and_lets_it_cool() -> None:
    machine = made("B", job=b"M109 S205\n" + LONG)
    machine.panel.choose("cleat hook.gcode")
    machine.panel.start()
    machine.advance(160.0)
    machine.panel.pause()
    machine.advance(260.0)
    said(machine)
    report = said(machine, "M105")[1]
    assert " /-205 " in report
    assert "@:0" in report
    assert machine.nozzle.reading < 170
    machine.panel.resume()
    machine.advance(262.0)
    assert " /205 " in next(line for line in said(machine) if line.startswith("T:"))  # warming up again, by itself
    moved = machine.card.byte(machine.now)
    machine.advance(400.0)
    assert machine.nozzle.reading == pytest.approx(205, abs=3)
    assert machine.card.byte(machine.now) > moved


@pytest.mark.parametrize(
    ("family", "words"), [("A", []), ("A'", ["//action:cancel"]), ("B", ["SD print stopped by user."])]
)
def test_stopping_at_the_panel_turns_the_heat_off(family: str, words: list[str]) -> None:
    machine = made(family, job=b"M104 S200\n" + LONG)
    machine.panel.choose("cleat hook.gcode")
    machine.panel.start()
    machine.advance(50.0)
    said(machine)
    machine.panel.stop()
    assert said(machine) == words
    assert machine.nozzle.target == 0
    assert machine.job_share() is None


@pytest.mark.parametrize(
    ("family", "done"),
    [
        ("A", ["echo:Print time: 7m 20s", "Done printing file"]),
        ("A'", ["Done printing file", "echo:0 hours 7 minutes"]),
        ("B", ["Done printing file"]),
    ],
)
def test_the_end_of_a_job_is_told(family: str, done: list[str]) -> None:
    machine = made(family, job=b"G4 S400\nG90\nG1 F600\n" + b"G1 X10\nG1 X0\n" * 20)
    machine.panel.choose("cleat hook.gcode")
    machine.panel.start()
    said(machine)
    assert [line for line in said(machine, after=460.0) if "busy" not in line and line != "wait"] == done
    assert machine.card.open is None


def test_a_short_job_of_family_a_tells_no_time() -> None:
    machine = made("A", job=b"G4 S10\n")
    machine.panel.choose("cleat hook.gcode")
    machine.panel.start()
    assert said(machine, after=20.0)[-1] == "Done printing file"


@pytest.mark.parametrize(
    ("family", "gap", "sum_"),
    [
        (
            "A",
            ["Error:Line Number is not Last Line Number+1, Last Line: 1", "Resend: 2"],
            ["Error:checksum mismatch, Last Line: 1", "Resend: 2"],
        ),
        (
            "A'",
            ["Error:Line Number is not Last Line Number+1, Last Line: 1", "Resend: 2", "ok"],
            ["Error:checksum mismatch, Last Line: 1", "Resend: 2", "ok"],
        ),
        (
            "B",
            ["Error:expected line 2 got 3", "", "Resend:2", "ok"],
            ["Error:Wrong checksum", "", "Resend:2", "ok"],
        ),
    ],
)
def test_a_lost_or_damaged_line_is_asked_for_again(family: str, gap: list[str], sum_: list[str]) -> None:
    machine = made(family)
    said(machine)
    said(machine, numbered(0, "M110 N0"))
    assert said(machine, numbered(1, "M400")) == ["ok"]
    assert said(machine, numbered(3, "M400")) == gap
    assert said(machine, numbered(2, "M400")[:-1] + "x") == sum_
    assert said(machine, numbered(2, "M400")) == ["ok"]


def test_family_b_skips_a_line_that_it_has_seen() -> None:
    machine = made("B")
    said(machine)
    said(machine, numbered(1, "M400"))
    assert said(machine, numbered(1, "M400")) == ["skip 1", "ok"]


@pytest.mark.parametrize(
    ("family", "answer"),
    [
        ("A", ['echo:Unknown command: "M798"', "ok"]),
        ("A'", ["Unknown M code: M798", "ok"]),
        ("B", ["ok", "Unknown command:M798"]),
    ],
)
def test_an_unknown_command_is_acknowledged_all_the_same(family: str, answer: list[str]) -> None:
    machine = made(family)
    said(machine)
    assert said(machine, "M798") == answer


@pytest.mark.parametrize("family", FAMILIES)
def test_the_firmware_tells_its_capabilities(family: str) -> None:
    machine = made(family)
    said(machine)
    told = [line for line in said(machine, "M115") if line != "ok"]
    assert told[0].startswith("FIRMWARE_NAME:")
    assert len(told) > 4
    assert all(line.startswith("Cap:") and line[-2:] in (":0", ":1") for line in told[1:])


def test_family_b_says_wait_every_second_while_nothing_comes() -> None:
    machine = made("B")
    said(machine)
    assert said(machine, after=10.0) == ["wait"] * 10


@pytest.mark.parametrize(
    ("family", "waiting"),
    [("A", " T:{} W:"), ("A'", "T:{} E:0 W:"), ("B", "T:{} B@:")],
)
def test_while_it_waits_for_heat_it_speaks_once_a_second(family: str, waiting: str) -> None:
    machine = made(family)
    said(machine)
    machine.receive(b"M109 S120\n")
    lines = [line for line in said(machine, after=20.0) if "T:" in line]
    assert len(lines) == 20
    head, _, tail = waiting.partition("{}")
    assert all(line.startswith(head) and tail in line for line in lines)


def test_a_question_waits_behind_a_heat_wait_but_the_armed_report_does_not() -> None:
    """Why a watch that only asks looks blind for minutes at the start of every job."""
    machine = made("A")
    said(machine)
    said(machine, "M155 S2")
    machine.receive(b"G28\n")
    machine.receive(b"M105\n")
    lines = said(machine, after=20.0)
    assert not any(line.startswith("ok") for line in lines)
    assert sum(line.startswith(" T:") for line in lines) == 10
    assert lines.count("echo:busy: processing") == 10
    assert [line[:5] for line in said(machine, after=10.0) if line.startswith("ok")] == ["ok", "ok T:"]


def test_a_reset_disarms_every_report() -> None:
    machine = made("A")
    said(machine, "M155 S1")
    said(machine, "M27 S1", after=5.0)
    machine.fault("restart")
    assert said(machine, after=30.0) == ["start", " Brown out Reset", *BANNERS["A"][2:]]


def test_busy_is_silent_for_heat_and_speaks_for_everything_else() -> None:
    machine = made("A")
    said(machine)
    machine.receive(b"M109 S100\n")
    assert not any("busy" in line for line in said(machine, after=20.0))
    machine = made("A")
    said(machine)
    machine.receive(b"G4 S1\n")
    assert said(machine, after=5.0) == ["ok"]  # shorter than one interval
    machine.receive(b"G4 S5\n")
    assert said(machine, after=6.0) == ["echo:busy: processing"] * 2 + ["ok"]
    said(machine, "M113 S0")
    machine.receive(b"G4 S5\n")
    assert said(machine, after=6.0) == ["ok"]


def test_in_a_build_of_several_ports_the_card_job_is_mute() -> None:
    machine = made("A", job=b"M118 hello\nM109 S60\nM118 hello\n", mute_card=True)
    machine.panel.choose("cleat hook.gcode")
    machine.panel.start()
    said(machine)
    machine.receive(b"M155 S2\n")
    lines = said(machine, after=60.0)
    assert "hello" not in lines
    assert not any("W:" in line for line in lines)
    assert "Done printing file" in lines
    # The question itself was answered only after the heat wait; from then on reports come.
    assert any(line.startswith(" T:") for line in lines)


def test_a_halt_ends_in_silence() -> None:
    machine = made("A")
    said(machine)
    said(machine, "M155 S1")
    machine.receive(b"M112\n")
    assert said(machine, after=5.0) == ["echo:M112 Shutdown", "Error:Printer halted. kill() called!"]
    assert said(machine, "M105", after=60.0) == []


def test_family_b_repeats_its_refusal_until_m999() -> None:
    machine = made("B")
    said(machine)
    machine.fault("halt")
    refusal = said(machine)
    assert refusal[0].startswith("fatal:")
    assert said(machine, "M105", after=5.0) == refusal
    assert said(machine, "M999") == ["ok"]
    assert said(machine, "M105")[0] == "ok"


def test_family_a_prime_resets_itself_after_a_halt() -> None:
    machine = made("A'")
    said(machine)
    machine.fault("halt")
    lines = said(machine, after=10.0)
    assert lines[1:4] == ["Error:Printer halted. kill() called!", "start", "echo: Software Reset"]
    assert said(machine, "M105")[0].startswith("ok T:")


def test_m23_over_the_wire_closes_the_running_file() -> None:
    """Why a watch must never send it."""
    machine = made("A", job=LONG)
    machine.panel.choose("cleat hook.gcode")
    machine.panel.start()
    machine.advance(60.0)
    machine.receive(b"M23 cleath~1.gco\n")
    machine.advance(90.0)
    assert not machine.card.running
    assert machine.card.byte(machine.now) == 0


def test_the_card_can_be_listed_and_driven_from_the_host() -> None:
    machine = made("A", job=LONG)
    said(machine)
    assert said(machine, "M20") == ["Begin file list", f"CLEATH~1.GCO {len(LONG)}", "End file list", "ok"]
    assert said(machine, "M23 nothing.gco") == ["open failed, File: nothing.gco.", "ok"]
    assert said(machine, "M23 CLEATH~1.GCO")[-2:] == ["File selected", "ok"]
    assert said(machine, "M24") == ["ok"]
    machine.advance(100.0)
    said(machine)
    said(machine, "M25")
    machine.advance(160.0)
    stood = [line for line in said(machine, "M31") if "time" in line]
    assert stood[0].startswith("echo:Print time: 1m 3")  # the pause does not count
    assert said(machine, "M27 C") == ["Current file: CLEATH~1.GCO cleat hook.gcode", "ok"]
    said(machine, "M524")
    assert said(machine, "M27") == ["Not SD printing", "ok"]


def test_overruns_lose_bytes_instead_of_growing() -> None:
    """Unanswered questions pile up: 128 bytes wait, the rest is lost, and the machine still speaks afterwards."""
    machine = made("A")
    said(machine)
    machine.receive(b"G4 S30\n")
    for _ in range(200):
        machine.receive(b"M105\n")
    assert machine.controller.inlet.lost > 0
    answers = [line for line in said(machine, after=40.0) if line.startswith("ok T:")]
    assert 20 < len(answers) < 40
    assert said(machine, "M105")[0].startswith("ok T:")


def test_an_empty_line_earns_no_ok() -> None:
    machine = made("A")
    said(machine)
    machine.receive(b"\r\n\n")
    assert said(machine) == []
    machine.receive(b"M1")
    machine.receive(b"05\r")
    assert said(machine)[0].startswith("ok T:")


@pytest.mark.parametrize(
    ("cause", "line"),
    [
        ("power-up", "PowerUp"),
        ("external", " External Reset"),
        ("brown-out", " Brown out Reset"),
        ("watchdog", " Watchdog Reset"),
        ("software", " Software Reset"),
    ],
)
@pytest.mark.parametrize("family", FAMILIES)
def test_the_banner_names_the_cause_of_the_reset(family: str, cause: str, line: str) -> None:
    machine = made(family)
    said(machine)
    machine.controller.reset(cause)
    told = said(machine, after=1.5)
    assert told[0] == "start"
    assert told[1] == {"A": line, "A'": "echo:" + line, "B": line.strip()}[family]


@pytest.mark.parametrize(
    ("seconds", "text"), [(59, "59s"), (64, "1m 4s"), (3849, "1h 4m 9s"), (183600, "2d 3h 0m 0s"), (0, "0s")]
)
def test_times_leave_out_leading_zeros(seconds: float, text: str) -> None:
    assert clock_text(seconds) == text
