"""The folder of job files: planned once when they have stopped growing, known again after a restart, forgotten when gone."""

from pathlib import Path

import pytest

from watchdog.clock import Clock
from watchdog.core.outlook import JobFile
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.service import folder
from watchdog.service.folder import JobFolder
from watchdog.simulator.jobs import SAMPLES

LIMITS = {"doorway-1": MachineLimits(), "loft-1": MachineLimits(homing=60.0)}


class Bench:
    """A folder with somebody who follows it."""

    def __init__(self, place: Path) -> None:
        self.jobs = place / "jobs"
        self.jobs.mkdir()
        self.said: list[str] = []
        self.kept = place / "plans"
        self.follower = self.follow()

    def follow(self) -> JobFolder:
        return JobFolder(self.jobs, self.kept, LIMITS, Clock(), lambda name, files: None, self.said.append)

    def look(self, times: int = 2) -> dict[str, dict[str, JobFile]]:
        for _ in range(times):
            self.follower.look()
        plans = self.follower._plans
        return {name: {path.name: file for path, file in files.items()} for name, files in plans.items()}


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    return Bench(tmp_path)


def test_a_file_is_planned_for_each_machine_once_it_has_stopped_growing(bench: Bench) -> None:
    ring = SAMPLES["thumb-ring.gcode"]()
    place = bench.jobs / "thumb-ring.gcode"
    place.write_bytes(ring[:5000])
    assert bench.look(1) == {"doorway-1": {}, "loft-1": {}}
    place.write_bytes(ring)
    assert bench.look(1) == {"doorway-1": {}, "loft-1": {}}
    plans = bench.look(1)
    one, other = plans["doorway-1"]["thumb-ring.gcode"].plan, plans["loft-1"]["thumb-ring.gcode"].plan
    assert one.size == len(ring)
    assert other.seconds == pytest.approx(one.seconds + 30.0, abs=2.0)  # its homing takes half a minute longer
    assert bench.follower.files == 1


def test_after_a_restart_plans_are_read_and_not_made_again(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """A folder of hundreds of files would keep a small board busy for minutes at each start."""
    (bench.jobs / "thumb-ring.gcode").write_bytes(SAMPLES["thumb-ring.gcode"]())
    before = bench.look()

    def made_again(*_: object) -> None:
        raise AssertionError("planned again")

    monkeypatch.setattr(folder, "plan_file", made_again)
    bench.follower = bench.follow()
    assert bench.look() == before


def test_a_changed_file_is_planned_anew_and_a_removed_one_forgotten(bench: Bench) -> None:
    place = bench.jobs / "part.gcode"
    place.write_bytes(SAMPLES["thumb-ring.gcode"]())
    first = bench.look()["doorway-1"]["part.gcode"].plan
    place.write_bytes(SAMPLES["oar-collar.gcode"]())
    second = bench.look()["doorway-1"]["part.gcode"].plan
    assert second.seconds > 2 * first.seconds
    place.unlink()
    assert bench.look(1) == {"doorway-1": {}, "loft-1": {}}


def test_rubbish_gets_a_verdict_and_the_others_their_plans(bench: Bench) -> None:
    (bench.jobs / "picture.gcode").write_bytes(bytes(range(256)) * 400)
    (bench.jobs / "empty.gcode").touch()
    (bench.jobs / "thumb-ring.gcode").write_bytes(SAMPLES["thumb-ring.gcode"]())
    (bench.jobs / "notes.txt").write_text("not a job")
    plans = bench.look()["doorway-1"]
    assert "thumb-ring.gcode" in plans
    assert "notes.txt" not in plans
    assert plans["picture.gcode"].plan.moves == 0 or "picture.gcode" in bench.follower.refused


def test_a_folder_that_is_away_is_said_once_and_found_again(bench: Bench) -> None:
    """A share that comes up after the small computer."""
    bench.jobs.rmdir()
    bench.look(3)
    assert len(bench.said) == 1
    assert str(bench.jobs) in str(bench.follower.trouble)
    bench.jobs.mkdir()
    (bench.jobs / "thumb-ring.gcode").write_bytes(SAMPLES["thumb-ring.gcode"]())
    assert "thumb-ring.gcode" in bench.look()["doorway-1"]
    assert bench.follower.trouble is None


def test_a_plan_on_the_disk_that_is_damaged_is_made_again(bench: Bench) -> None:
    (bench.jobs / "thumb-ring.gcode").write_bytes(SAMPLES["thumb-ring.gcode"]())
    before = bench.look()
    for kept in bench.kept.glob("*.plan"):
        kept.write_bytes(kept.read_bytes()[:100])
    bench.follower = bench.follow()
    assert bench.look() == before
