"""`check`: what is said of a job file before it is started."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from watchdog.simulator.jobs import SAMPLES, make_job

SETTINGS = """
zone = "Europe/Lisbon"
filament_price = 21.00
places.state = "{state}"
[hours]
mon = ["13:00-21:00"]
[machines.doorway-1]
port = "/dev/serial/by-id/nothing"
[machines.doorway-1.motion]
homing = 24
room = [[0, 200], [0, 200], [0, 180]]
"""


def check(folder: Path, *words: str) -> "subprocess.CompletedProcess[str]":
    config = folder / "emberward.toml"
    if not config.exists():
        config.write_text(SETTINGS.format(state=folder / "state"))
    command = [sys.executable, "-m", "watchdog", "check", *words, "--config", str(config)]
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)


@pytest.fixture
def ring(tmp_path: Path) -> Path:
    file = tmp_path / "thumb-ring.gcode"
    file.write_bytes(SAMPLES["thumb-ring.gcode"]())
    return file


def test_a_good_file_in_good_time_has_nothing_against_it(ring: Path) -> None:
    told = check(ring.parent, str(ring), "--start", "2026-03-02T14:00")
    assert (told.returncode, told.stderr) == (0, "")
    assert "start      Mon 14:00 → done Mon 14:0" in told.stdout
    assert "supervised until Mon 21:00" in told.stdout
    assert "nothing was found that speaks against starting it" in told.stdout
    assert "safe" not in told.stdout


@pytest.mark.parametrize(
    ("start", "words"),
    [
        ("2026-03-02T20:55", "may run on after the supervised hours end at Mon 21:00"),
        ("2026-03-02T22:00", "nobody is there at its start"),
        ("2026-03-01T14:00", "nobody is there at its start"),
    ],
)
def test_a_job_that_would_run_on_alone_is_spoken_against(ring: Path, start: str, words: str) -> None:
    told = check(ring.parent, str(ring), "--start", start)
    assert told.returncode == 1
    assert words in told.stdout


def test_for_programs_it_is_one_object_a_file_and_the_figures_agree(ring: Path) -> None:
    told = check(ring.parent, str(ring), "--start", "2026-03-02T14:00", "--json")
    found = json.loads(told.stdout)
    assert found["bytes"] == ring.stat().st_size
    assert found["seconds"] < found["seconds_at_most"]
    assert found["start"] == 1772460000
    grams = found["filament_mm"] * 2.4053 * 1.24 / 1000  # area of 1.75 mm filament, density of PLA
    assert found["filament_g"] == pytest.approx(grams, rel=1e-3, abs=0.01)
    assert found["price"] == pytest.approx(grams * 21.0 / 1000, abs=0.01)
    assert found["outlasts_supervision"] is False
    assert found["faults"] == []


def test_heat_left_on_at_the_end_is_a_certain_hot_idle(tmp_path: Path) -> None:
    file = tmp_path / "left-hot.gcode"
    file.write_bytes(make_job(layers=3, width=20, depth=20, cools=False))
    told = check(tmp_path, str(file), "--start", "2026-03-02T14:00", "--json")
    assert told.returncode == 1
    assert any("heat" in fault["name"] for fault in json.loads(told.stdout)["faults"])


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("M104 S205\nG28\nG1 X10 Y10 E5 F1200\nM104 S0\n", "cold"),
        ("M109 S205\nG1 X10 Y10 E5 F1200\nM104 S0\n", "hom"),
        ("M109 S290\nG28\nG1 X10 Y10 E5 F1200\nM104 S0\n", "window"),
        ("M109 S205\nG28\nG1 X900 Y10 E5 F1200\nM104 S0\n", "outside"),
        ("", "empty"),
    ],
    ids=["extrusion before heat", "no homing", "too hot for the plastic", "outside the machine", "empty"],
)
def test_faults_of_a_file_are_named(tmp_path: Path, text: str, word: str) -> None:
    file = tmp_path / "faulty.gcode"
    file.write_text(text)
    told = check(tmp_path, str(file), "--start", "2026-03-02T14:00", "--json")
    assert told.returncode == 1
    names = " ".join(f"{fault['name']} {fault['words']}" for fault in json.loads(told.stdout)["faults"]).lower()
    assert word in names


def test_a_filament_change_is_told_with_its_time(tmp_path: Path) -> None:
    """Somebody must be there then, and would otherwise learn it from an alarm."""
    file = tmp_path / "two-colours.gcode"
    file.write_bytes(make_job(layers=10, width=30, depth=20, change_at=5))
    told = check(tmp_path, str(file), "--start", "2026-03-02T14:00")
    assert "person     needed about Mon 14:" in told.stdout
    assert "M600" in told.stdout


@pytest.mark.parametrize(("ending", "begins"), [("svg", b"<?xml"), ("png", b"\x89PNG")])
def test_the_plan_is_drawn(ring: Path, ending: str, begins: bytes) -> None:
    picture = ring.with_suffix(f".{ending}")
    told = check(ring.parent, str(ring), "--start", "2026-03-02T14:00", "--plot", str(picture))
    assert told.returncode == 0, told.stderr
    drawn = picture.read_bytes()
    assert drawn.startswith(begins)
    assert len(drawn) > 5000


def test_names_that_the_card_may_confuse_are_named(tmp_path: Path) -> None:
    for name in ("boat cleat left side.gcode", "boat cleat right side.gcode"):
        (tmp_path / name).write_bytes(SAMPLES["thumb-ring.gcode"]())
    files = [str(file) for file in sorted(tmp_path.glob("*.gcode"))]
    told = check(tmp_path, *files, "--start", "2026-03-02T14:00")
    assert told.returncode == 1
    assert "short name can be taken for that of boat cleat right side.gcode" in told.stdout


def test_what_is_no_file_or_no_time_is_said(ring: Path) -> None:
    missing = check(ring.parent, str(ring.parent / "none.gcode"), "--start", "2026-03-02T14:00")
    assert missing.returncode == 1
    assert "none.gcode" in missing.stderr
    assert "Traceback" not in missing.stderr
    wrong = check(ring.parent, str(ring), "--start", "soon")
    assert wrong.returncode == 2
    assert "14:05" in wrong.stderr
