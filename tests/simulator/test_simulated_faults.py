"""Every fault shows its sign on the wire, from underneath, and heals where it may."""

import itertools
import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from watchdog.core.traffic import Direction, TrafficLine
from watchdog.simulator.faults import FAULTS
from watchdog.simulator.laboratory import EPOCH, run, sample_options
from watchdog.simulator.machine import Options, SimulatedMachine

STRIKE = 700.0
"""s: in the middle of a 22-minute job"""
JOB = "at 2 s choose oar-collar.gcode\nat 5 s start\n"


def traffic(
    fault: str, *, heal: float | None = None, duration: float = 1300.0, family: str = "A", guards: bool = True
) -> list[TrafficLine]:
    """A recording with `fault` at 700 s, in a job where it belongs to one."""
    script = (JOB if FAULTS[fault].in_job else "") + f"at {STRIKE:.0f} s fault {fault}\n"
    if heal is not None:
        script += f"at {heal:.0f} s heal {fault}\n"
    return run(script, seed=1, duration=duration, options=replace(sample_options(family), guards=guards))


def after(lines: list[TrafficLine], since: float = STRIKE, until: float = 1e9) -> list[str]:
    """What was received in a time."""
    return [line.text for line in lines if line.direction is Direction.RECEIVED and since <= line.stamp - EPOCH < until]


def heats(lines: list[str]) -> list[tuple[float, float, int]]:
    """Nozzle, its target, its power, of each report."""
    found = (re.search(r"T:(-?[\d.]+) /(-?[\d.]+) .*?[^B]@:(\d+)", line) for line in lines)
    return [(float(each[1]), float(each[2]), int(each[3])) for each in found if each]


def bytes_told(lines: list[str]) -> list[int]:
    return [int(each[1]) for line in lines if (each := re.match(r"SD printing byte (\d+)/", line))]


def text(lines: list[str]) -> str:
    return "\n".join(lines)


def hot_after_load(lines: list[str]) -> bool:
    return heats(lines)[-1][0] > 200 and heats(lines)[-1][1] == 205 and "Not SD printing" in lines


def job_not_started(lines: list[str]) -> bool:
    return set(bytes_told(lines)) == {0} and heats(lines)[-1][0] > 200


def stall(lines: list[str]) -> bool:
    late = bytes_told(lines)[-100:]
    return len(set(late)) == 1 and late[0] > 0 and heats(lines)[-1][0] > 200 and "SD read" not in text(lines)


def counter_back(lines: list[str]) -> bool:
    told = bytes_told(lines)
    return any(later < before * 0.75 for before, later in itertools.pairwise(told))


def weak(lines: list[str]) -> bool:
    return "Thermal Runaway, system stopped! Heater_ID: E0" in text(lines) and any(
        now < target - 3 and power == 127 for now, target, power in heats(lines) if target
    )


def loose(lines: list[str]) -> bool:
    told = heats(lines)
    return any(before[0] - later[0] > 30 for before, later in itertools.pairwise(told))


def noise(lines: list[str]) -> bool:
    shape = re.compile(r"ok T:|ok$|SD printing byte \d+/\d+$|Not SD|Done|echo:|start| |Resend|Error")
    return sum(shape.match(line) is None for line in lines) > 10


def powers(lines: list[str]) -> float:
    """Mean power of the nozzle's heater, of 127."""
    told = [power for _, target, power in heats(lines) if target]
    return sum(told) / len(told)


SIGNS: dict[str, Callable[[list[str]], bool]] = {
    "hot-after-load": hot_after_load,
    "hot-after-job": lambda lines: "Done printing file" in lines and heats(lines)[-1][:2] > (200, 204),
    "preheat-forgotten": lambda lines: heats(lines)[-1][0] > 200 and "Not SD printing" in lines,
    "job-not-started": job_not_started,
    "stall": stall,
    "card-error": lambda lines: lines.count("Error:SD read error") > 100 and len(set(bytes_told(lines)[-50:])) == 1,
    "card-pulled": lambda lines: "echo:SD card released" in lines and heats(lines)[-1][1] == 0,
    "counter-back": counter_back,
    "frozen-hot": lambda lines: len(lines) < 3,
    "restart": lambda lines: " Brown out Reset" in lines and "start" in lines,
    "halt": lambda lines: lines[-1] == "Error:Printer halted. kill() called!",
    "runaway": lambda lines: "MAXTEMP triggered" in text(lines) and max(heats(lines))[0] > 260,
    "heater-open": lambda lines: "Thermal Runaway" in text(lines) and min(heats(lines))[0] < 175,
    "heater-weak": weak,
    "sensor-open": lambda lines: "Error:MINTEMP triggered, system stopped! Heater_ID: E0" in lines,
    "sensor-short": lambda lines: "Error:MAXTEMP triggered, system stopped! Heater_ID: E0" in lines,
    "sensor-loose": loose,
    "fan-on-block": weak,
    "filament-change-waits": lambda lines: lines.count("echo:busy: paused for user") > 100,
    "paused-forgotten": lambda lines: len(set(bytes_told(lines)[-100:])) == 1 and "//action" not in text(lines),
    "cable-pulled": lambda lines: len(lines) == 0,
    "noise": noise,
    "nozzle-jam": lambda lines: powers(lines) < 79.0,
    "run-out-unseen": lambda lines: powers(lines) < 79.0,
    "tangle": lambda lines: powers(lines) < 79.3,
    "run-out-told": lambda lines: lines.count("echo:busy: paused for user") > 100,
    "frozen-extruding": lambda lines: len(lines) < 3,
    "port-reset": lambda lines: "Current file: OAR-CO~1.GCO oar-collar.gcode" in lines,  # asked for anew
    "sensor-slipping": lambda lines: "Thermal Runaway" in text(lines) and min(heats(lines))[0] < 185,
    "sensor-drifting": lambda lines: powers(lines) > 88.0,
    "slow": lambda lines: "Done printing file" not in lines,
    "speed-60": lambda lines: "Done printing file" not in lines,
}
IN_STREAMS = {"bytes-lost", "cable-noisy", "computer-asleep", "places-lost", "program-gone"}
"""faults of a streamed job: test_simulated_stream.py has their signs"""


def test_every_fault_has_its_sign_here() -> None:
    assert set(SIGNS) | IN_STREAMS == set(FAULTS)
    assert all(fault.summary and "\n" not in fault.summary for fault in FAULTS.values())


@pytest.mark.parametrize("fault", SIGNS)
def test_a_fault_shows_on_the_wire(fault: str) -> None:
    """A fault that cannot be seen would make a test of the watch pass for nothing."""
    lines = traffic(fault, duration=1600.0 if fault == "hot-after-job" else 1300.0)
    assert SIGNS[fault](after(lines, STRIKE - 30 if fault == "counter-back" else STRIKE))


@pytest.mark.parametrize("fault", SIGNS)
def test_without_the_fault_its_sign_is_absent(fault: str) -> None:
    healthy = run(JOB if FAULTS[fault].in_job else "", seed=1, duration=1600.0)
    lines = after(healthy)
    assert not SIGNS[fault](lines)


@pytest.mark.parametrize(
    "fault", ["stall", "card-error", "frozen-hot", "filament-change-waits", "paused-forgotten", "cable-pulled", "slow"]
)
def test_a_healed_fault_lets_the_job_end(fault: str) -> None:
    lines = traffic(fault, heal=STRIKE + 120, duration=2000.0)
    assert "Done printing file" in after(lines)


@pytest.mark.parametrize("fault", ["hot-after-load", "preheat-forgotten"])
def test_what_somebody_cools_is_cold_again(fault: str) -> None:
    lines = traffic(fault, heal=STRIKE + 300, duration=2000.0)
    assert heats(after(lines))[-1][0] < 50
    assert heats(after(lines))[-1][1] == 0


def test_a_job_that_was_not_started_can_be_started_once_healed() -> None:
    script = "at 5 s fault job-not-started\nat 300 s heal job-not-started\nat 310 s start\n"
    told = bytes_told(after(run(script, seed=1, duration=900.0), 300.0))
    assert told[-1] > 1000


@pytest.mark.parametrize(
    "fault", ["heater-open", "heater-weak", "fan-on-block", "sensor-open", "sensor-loose", "sensor-short", "runaway"]
)
def test_a_mended_part_works_again_after_a_power_cycle(fault: str) -> None:
    machine = SimulatedMachine(Options(), seed=1)
    machine.advance(2.0)
    machine.panel.preheat(200.0)
    machine.advance(200.0)
    machine.fault(fault)
    machine.advance(500.0)
    machine.heal(fault)
    machine.panel.switch_off()  # a block of 500 °C would halt it again at once: let it cool
    machine.advance(1500.0)
    machine.panel.switch_on()
    machine.advance(1510.0)
    machine.take()
    machine.panel.preheat(200.0)
    machine.advance(1800.0)
    machine.receive(b"M105\n")
    assert b"ok T:" in machine.take()
    assert machine.nozzle.reading == pytest.approx(200.0, abs=2.0)


def test_without_its_guards_a_controller_lets_the_nozzle_droop() -> None:
    """Old builds do not protect themselves: there the watch is the only one who notices."""
    lines = after(traffic("heater-weak", guards=False), until=1100.0)
    assert "Error" not in text(lines)
    now, target, power = heats(lines)[-1]
    assert target == 205
    assert now < 190
    assert power == 127


def test_without_its_guards_a_stuck_heater_climbs_past_every_plastic() -> None:
    now, _, power = heats(after(traffic("runaway", guards=False)))[-1]
    assert now > 300
    assert power == 0  # the controller believes it is off


def test_a_frozen_controller_keeps_its_outputs_and_its_guards_sleep() -> None:
    machine = SimulatedMachine(Options(), seed=1)
    machine.advance(2.0)
    machine.panel.preheat(205.0)
    machine.advance(300.0)
    machine.take()
    machine.fault("frozen-hot")
    duty = machine.nozzle.duty
    machine.nozzle.draught = 0.2  # something that the guard would have tripped on
    machine.receive(b"M105\n")
    machine.advance(900.0)
    assert machine.take() == b""
    assert machine.nozzle.duty == duty > 0
    assert machine.nozzle.reading < 150
    machine.nozzle.draught = 0.0
    machine.heal("frozen-hot")
    machine.receive(b"M105\n")
    assert b"ok T:" in machine.take()


def test_a_pulled_cable_leaves_the_job_running() -> None:
    machine = SimulatedMachine(sample_options(), seed=1)
    machine.advance(2.0)
    machine.panel.choose("thumb-ring.gcode")
    machine.panel.start()
    machine.advance(250.0)
    machine.fault("cable-pulled")
    before = machine.card.byte(machine.now)
    machine.receive(b"M105\n")
    machine.advance(280.0)
    assert machine.take() == b""
    assert machine.card.byte(machine.now) > before
    machine.heal("cable-pulled")
    machine.receive(b"M105\n")
    machine.advance(300.0)
    assert b"ok T:" in machine.take()


@pytest.mark.parametrize(
    ("family", "open_", "halts"),
    [
        ("A", "-15.00", "MINTEMP triggered, system stopped"),
        ("A'", "0.0", "Heaters switched off. MINTEMP triggered!"),
        ("B", "-333.00", "Disabling all heaters due to detected sensor defect."),
    ],
)
def test_an_open_sensor_on_a_cold_machine_is_silent_until_heat_is_asked_for(
    family: str, open_: str, halts: str
) -> None:
    """A restart after such a halt may look healthy: only the reading gives it away."""
    machine = SimulatedMachine(Options(family=family), seed=1)
    machine.advance(2.0)
    machine.fault("sensor-open")
    machine.take()
    machine.receive(b"M105\n")
    machine.advance(60.0)
    quiet = machine.take().decode()
    assert f"T:{open_} " in quiet
    assert halts not in quiet
    machine.panel.preheat(200.0)
    machine.advance(62.0)
    assert halts in machine.take().decode()
    assert machine.nozzle.target == 0


def test_family_b_goes_on_dry_after_a_sensor_defect() -> None:
    lines = after(traffic("sensor-open", family="B"))
    assert "extruder 0: temp sensor defect" in lines
    told = bytes_told(lines)
    assert max(told) > told[0]
    assert any(" D0:1" in line for line in lines)


def test_family_a_prime_stops_but_still_answers_after_a_sensor_defect() -> None:
    lines = after(traffic("sensor-open", family="A'"))
    assert lines.count("Error:0: Heaters switched off. MINTEMP triggered!") == 1
    assert lines[-2] == "Not SD printing" or lines[-1].startswith("ok")


def test_a_restart_loses_the_job_and_the_heat() -> None:
    lines = after(traffic("restart"))
    assert not bytes_told(lines[5:])
    assert all(target == 0 for _, target, _ in heats(lines)[1:])


def test_healing_everything_at_once_touches_nothing_that_is_well() -> None:
    machine = SimulatedMachine(sample_options(), seed=1)
    machine.advance(5.0)
    machine.fault("stall")
    machine.fault("heater-weak")
    machine.fault("noise")
    machine.panel.preheat(100.0)
    machine.heal()
    assert machine.nozzle.target == 100.0
    assert not machine.card.stuck
    assert machine.nozzle.strength == 1.0
    assert machine.bit_errors == 0.0


def test_an_unknown_fault_is_refused() -> None:
    with pytest.raises(KeyError):
        SimulatedMachine().fault("gremlin")
