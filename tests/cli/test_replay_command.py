"""`replay`: what a recording comes to, told as the outward format says, the same each time."""

import gzip
import json
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from watchdog.core.traffic import read_stamp

Command = Callable[..., subprocess.CompletedProcess[str]]
Config = Callable[[str], Path]
RECORDINGS = sorted((Path(__file__).parents[1] / "recordings" / "replay").glob("*.traffic"))
HOT = next(file for file in RECORDINGS if file.stem == "hot-after-a-load")
STALL = next(file for file in RECORDINGS if file.stem == "card-contact-lost-mid-job")

# the fields that the outward interface promises for each kind, and what they may hold
AXES = {
    "link": {"available", "unavailable"},
    "execution": {
        "unavailable", "ready", "preparing", "building", "paused", "waiting", "stopped", "complete", "faulted",
    },
    "hotend": {"unknown", "cold", "heating", "hot", "cooling"},
    "condition": {"normal", "warning", "fault", "unavailable"},
}  # fmt: skip
TRANSITIONS = {"raised", "acknowledged", "returned", "cleared", "shelved", "unshelved", "escalated"}
JOB_EVENTS = {"started", "held", "resumed", "completed", "abandoned"}


def rows(text: str) -> list[dict[str, Any]]:
    return [json.loads(line) for line in text.splitlines()]


@pytest.mark.parametrize("recording", RECORDINGS, ids=lambda file: file.stem)
def test_a_recording_comes_to_what_its_golden_says_each_time(
    recording: Path, emberward: Command, golden: Callable[[Path, str], None]
) -> None:
    first, again = (emberward("replay", "--json", recording) for _ in range(2))
    assert (first.returncode, first.stderr) == (0, "")
    assert first.stdout == again.stdout
    golden(recording.with_suffix(".expected.jsonl"), first.stdout)


@pytest.mark.parametrize("recording", RECORDINGS, ids=lambda file: file.stem)
def test_every_line_has_the_promised_shape_and_time_only_goes_on(recording: Path, emberward: Command) -> None:
    """Scripts of the school read this."""
    told = rows(emberward("replay", "--json", recording).stdout)
    *happened, summary = told
    stamps = [read_stamp(row["at"]) for row in happened]
    assert None not in stamps
    assert stamps == sorted(stamps, key=lambda stamp: stamp or 0.0)
    for row in happened:
        assert row["machine"] == "machine"
        match row["kind"]:
            case "alarm":
                assert row["transition"] in TRANSITIONS
                assert row["priority"] in {"urgent", "high", "low"}
                assert isinstance(row["evidence"], dict)
            case "job":
                assert row["event"] in JOB_EVENTS
                assert {"file", "bytes"} <= row.keys()
            case "event":
                assert row["event"]
            case axis:
                assert {row["from"], row["to"]} <= AXES[axis]
    assert summary["kind"] == "summary"
    assert summary["lines"] == len(recording.read_text().splitlines())
    assert (summary["unparsed"], summary["unreadable"]) == (0, 0)


def test_a_forgotten_hot_nozzle_and_a_job_that_stands_still_are_alarmed(emberward: Command) -> None:
    """What the goldens are about, in words, so that no golden can be made anew without it."""

    def alarms(recording: Path) -> list[tuple[str, str]]:
        told = rows(emberward("replay", "--json", recording).stdout)
        return [(row["alarm"], row["transition"]) for row in told if row["kind"] == "alarm"]

    assert alarms(HOT) == [("hot-idle", step) for step in ("raised", "returned", "cleared")]
    assert alarms(STALL) == [("job-stalled", step) for step in ("raised", "returned", "cleared")]


def raised(text: str) -> dict[str, str]:
    return {row["alarm"]: row["at"] for row in rows(text) if row.get("transition") == "raised"}


def test_the_settings_beside_a_recording_win_over_the_machines(
    emberward: Command, config: Config, tmp_path: Path
) -> None:
    alone = tmp_path / "alone.traffic"
    alone.write_bytes(STALL.read_bytes())
    usual = raised(emberward("replay", "--json", alone).stdout)["job-stalled"]
    beside = raised(emberward("replay", "--json", STALL).stdout)["job-stalled"]
    before, after = read_stamp(beside), read_stamp(usual)
    assert before is not None
    assert after is not None
    assert after - before == pytest.approx(60, abs=2)
    file = config('[machines.doorway-1]\nlimits.job-stalled.unplanned = "2 min"\nlimits.job-stalled.margin = 10\n')
    assert raised(emberward("replay", "--json", STALL, "--config", file).stdout)["job-stalled"] == beside
    assert raised(emberward("replay", "--json", alone, "--config", file).stdout)["job-stalled"] < beside


def test_it_is_replayed_as_the_machine_that_is_named(emberward: Command, config: Config) -> None:
    file = config(
        '[machines.a]\nport = "/dev/a"\nlimits.hot-idle.dose = 400\nlimits.hot-idle.purge_from = 400\n'
        "limits.hot-idle.inspect_from = 400\n"
        '[machines.b]\nport = "/dev/b"\n'
    )
    b = emberward("replay", "--json", HOT, "--config", file, "--machine", "b")
    assert {row["machine"] for row in rows(b.stdout)} == {"b"}
    assert "hot-idle" in raised(b.stdout)
    assert raised(emberward("replay", "--json", HOT, "--config", file, "--machine", "a").stdout) == {}
    unknown = emberward("replay", HOT, "--config", file, "--machine", "c")
    assert (unknown.returncode, unknown.stdout) == (2, "")
    assert "a, b" in unknown.stderr


def test_a_mistake_beside_a_recording_is_told_with_its_place(emberward: Command, tmp_path: Path) -> None:
    recording = tmp_path / "x.traffic"
    recording.write_bytes(HOT.read_bytes())
    (tmp_path / "x.toml").write_text('[settings]\nmateriel = "PLA"\nlimits.hot-idle.doze = 3\nbaud = "fast"\n')
    done = emberward("replay", recording)
    assert (done.returncode, done.stdout) == (1, "")
    assert f"{tmp_path}/x.toml: settings.materiel: no such setting. Did you mean material?" in done.stderr
    assert f"{tmp_path}/x.toml: settings.limits.hot-idle.doze: no such setting. Did you mean dose?" in done.stderr
    assert f"{tmp_path}/x.toml: settings.baud: 'fast' is no whole number" in done.stderr
    assert "Traceback" not in done.stderr


def test_one_missing_recording_does_not_keep_the_others_away(emberward: Command, tmp_path: Path) -> None:
    done = emberward("replay", "--json", tmp_path / "none.traffic", HOT, tmp_path)
    assert done.returncode == 1
    assert f"{tmp_path}/none.traffic: there is no such recording." in done.stderr
    assert f"{tmp_path}: cannot be read: Is a directory." in done.stderr
    assert "hot-idle" in raised(done.stdout)


def test_lines_that_are_none_are_counted_and_passed_over(emberward: Command, tmp_path: Path) -> None:
    recording = tmp_path / "worn.traffic"
    lines = HOT.read_bytes().splitlines(keepends=True)
    recording.write_bytes(
        b"".join([*lines[:50], b"rubbish\n", b"\0\0\xff\n", b"2026-13-02T09:00:00.000Z < x\n", *lines[50:]])
    )
    done = emberward("replay", "--json", recording)
    assert done.returncode == 0
    summary = rows(done.stdout)[-1]
    assert (summary["unreadable"], summary["lines"]) == (3, len(lines))
    assert "3 lines are no lines of a recording" in done.stderr
    assert "hot-idle" in raised(done.stdout)


def test_a_compressed_recording_is_replayed_and_a_damaged_one_is_told(emberward: Command, tmp_path: Path) -> None:
    packed, cut = tmp_path / "hot.traffic.gz", tmp_path / "cut.traffic.gz"
    packed.write_bytes(gzip.compress(HOT.read_bytes()))
    cut.write_bytes(packed.read_bytes()[:-200])
    assert "hot-idle" in raised(emberward("replay", "--json", packed).stdout)
    done = emberward("replay", "--json", cut)
    assert done.returncode == 1
    assert "damaged or cut off" in done.stderr
    assert rows(done.stdout)[-1]["kind"] == "summary"


def test_a_foreign_log_is_read_in_the_machines_layout(emberward: Command, config: Config, tmp_path: Path) -> None:
    log = tmp_path / "serial.log"
    words = {"<": "recv", ">": "send", "!": "note"}
    turned = []
    for line in HOT.read_text().splitlines():
        stamp, direction, *text = line.split(" ", 2)
        turned.append(f"{stamp.removesuffix('Z').replace('T', ' ')} {words[direction]}: {''.join(text)}")
    log.write_text("\n".join(turned) + "\n")
    layout = r"""
[machines.loft-1]
source = "log"
log = "/srv/loft/serial.log"
[machines.loft-1.layout]
pattern = '^(?P<time>\S+ \S+) (?P<direction>\w+): (?P<text>.*)$'
"""
    done = emberward("replay", "--json", log, "--config", config(layout))
    assert raised(done.stdout) == raised(emberward("replay", "--json", HOT).stdout)
    assert {row["machine"] for row in rows(done.stdout)} == {"loft-1"}


def test_people_read_local_time(emberward: Command, config: Config) -> None:
    done = emberward("replay", HOT, "--config", config('zone = "America/Halifax"\n'))
    assert (done.returncode, done.stderr) == (0, "")
    first, *told = done.stdout.splitlines()
    assert first == "hot-after-a-load.traffic, times of America/Halifax"
    (line,) = [line for line in told if "hot-idle raised" in line]
    assert line.startswith("2026-03-02 05:09:07  alarm      hot-idle raised (high)")
    assert told[-1].endswith(" lines, 0 not understood, 20 min of traffic")


def test_a_replay_tells_nobody_and_keeps_nothing(emberward: Command, config: Config, tmp_path: Path) -> None:
    file = config('[routes.push]\nurl_file = "/no/such/file"\n[people.lead]\nroutes = ["push"]\n')
    done = emberward("replay", "--json", HOT, "--config", file)
    assert done.returncode == 0
    assert not (tmp_path / "state").exists()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["emberward.toml", "home"]
    assert list((tmp_path / "home").iterdir()) == []
