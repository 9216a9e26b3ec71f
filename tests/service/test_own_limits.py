"""What a machine lists of its own speeds and accelerations is what its jobs are planned for."""

import json
from dataclasses import replace
from pathlib import Path

import pytest

from watchdog.clock import Clock
from watchdog.core.events import Line
from watchdog.core.moment import Moment
from watchdog.core.observations import Setting
from watchdog.core.step import Watch, World, begin, step
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.jobfile.machine_limits import MachineLimits, from_settings_lines
from watchdog.service.folder import JobFolder
from watchdog.service.frozen import freeze, settings_in, thaw
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine, Settings
from watchdog.simulator.jobs import SAMPLES
from watchdog.simulator.laboratory import EPOCH, run, sample_options
from watchdog.simulator.machine import Options, SimulatedMachine
from watchdog.simulator.motion import usual_axes

WATCH = watch_of("doorway-1", Machine(), Settings())
SLOW = MachineLimits(speed=(50.0, 50.0, 5.0, 25.0), acceleration=(500.0, 500.0, 50.0, 500.0), printing=300.0)


def hearing(*texts: str, world: World | None = None, watch: Watch = WATCH) -> World:
    world = world or begin(watch, Moment(0.0, EPOCH))
    for nth, text in enumerate(texts):
        at = Moment(float(nth), EPOCH + nth)
        world, _ = step(watch, world, Line(at, Direction.RECEIVED, text, read(Direction.RECEIVED, text)))
    return world


@pytest.mark.parametrize("family", ["A", "A'", "B"])
def test_a_machine_s_list_is_what_it_moves_by(family: str) -> None:
    machine = SimulatedMachine(Options(family=family))
    machine.advance(3.0)
    machine.take()
    machine.receive(b"M203 X90\nM503\n")
    machine.advance(5.0)
    world = hearing(*machine.take().decode().splitlines())
    assert from_settings_lines(SLOW, world.settings).speed == (90.0, 200.0, 12.0, 120.0)
    assert machine.controller.motion.axes.speed == [90.0, 200.0, 12.0, 120.0]


@pytest.mark.parametrize("family", ["A", "A'"])
def test_the_watch_s_own_poller_brings_the_limits_of_an_idle_machine(family: str) -> None:
    lines = run("", duration=60.0, options=sample_options(family), reports=True)
    asked = [line.text for line in lines if line.direction is Direction.SENT]
    assert asked.count("M503") == 1
    assert asked.index("M503") > asked.index("M115")
    world = begin(WATCH, Moment(0.0, EPOCH))
    for line in lines:
        at = Moment(line.stamp - EPOCH, line.stamp)
        world, _ = step(WATCH, world, Line(at, line.direction, line.text, read(line.direction, line.text)))
    assert [setting.code for setting in world.settings] == ["M201", "M203", "M204", "M205", "M92"]
    limits, axes = from_settings_lines(SLOW, world.settings), usual_axes()
    assert limits.speed == tuple(axes.speed)
    assert limits.acceleration == tuple(axes.acceleration)
    assert (limits.printing, limits.travelling, limits.retracting) == (axes.extruding, axes.travelling, axes.retracting)
    assert limits.deviation == 0.02


def test_nothing_is_asked_when_a_job_runs_or_may_run() -> None:
    """The answer is some thousand bytes, and a controller makes it between two moves."""
    script = "at 2 s choose thumb-ring.gcode\nat 3 s start"
    lines = run(script, duration=200.0, reports=True)
    assert "M503" not in [line.text for line in lines if line.direction is Direction.SENT]
    lines = run("", duration=200.0, reports=False)
    assert "M503" not in [line.text for line in lines if line.direction is Direction.SENT]


def test_the_latest_of_each_code_counts() -> None:
    world = hearing(
        "echo:  M203 X100.00 Y100.00 Z5.00 E25.00", "echo:  M203 X90.00 Y100.00 Z5.00 E25.00", "M204 P500 T800"
    )
    assert world.settings == (
        Setting("M203", (("X", 90.0), ("Y", 100.0), ("Z", 5.0), ("E", 25.0))),
        Setting("M204", (("P", 500.0), ("T", 800.0))),
    )


def test_a_code_in_two_lines_is_one_and_a_second_extruder_is_left_out() -> None:
    world = hearing("M201 X500 Y500 Z100", "M201 T0 E5000", "M201 T1 E10")
    assert dict(world.settings[0].values) == {"X": 500.0, "Y": 500.0, "Z": 100.0, "E": 5000.0}
    limits = from_settings_lines(SLOW, world.settings)
    assert limits.acceleration == (500.0, 500.0, 100.0, 5000.0)


def test_what_a_job_sets_while_it_is_streamed_is_not_what_the_machine_lists() -> None:
    world = begin(WATCH, Moment(0.0, EPOCH))
    text = "N5 M203 X10 Y10*57"
    world, _ = step(WATCH, world, Line(Moment(1.0, EPOCH + 1), Direction.SENT, text, read(Direction.SENT, text)))
    assert world.settings == ()


def test_a_restarted_watch_still_knows_them() -> None:
    """It may come up in the middle of a job, when it must not ask."""
    world = hearing("echo:  M203 X90.00 Y100.00 Z5.00 E25.00", "echo:  M205 J0.020")
    kept = freeze(WATCH, world)
    thawed = thaw(WATCH, kept)
    assert thawed is not None
    assert thawed[0].settings == world.settings
    assert settings_in(kept) == world.settings


def test_a_world_from_before_they_were_kept_is_thawed_as_well() -> None:
    """An update must not cost the alarms that stand, nor the history."""
    world = hearing("echo:  M205 J0.020")
    parts = json.loads(freeze(WATCH, world))
    del parts["settings"]
    fields = list(world.machine._fields)
    assert fields[-1] == "sent"
    parts["machine"].pop()
    parts["machine"][fields.index("stream")].pop()  # its newest part
    thawed = thaw(WATCH, json.dumps(parts))
    assert thawed is not None
    assert thawed[0].settings == ()
    assert thawed[0].machine == world.machine


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"settings": 5}', '{"settings": [["M203"]]}'])
def test_a_stored_world_that_does_not_fit_lists_nothing(text: str) -> None:
    assert settings_in(text) == ()


class Bench:
    """A folder that two machines' jobs lie in, one of them with a word of its own."""

    def __init__(self, place: Path) -> None:
        self.place = place
        self.jobs = place / "jobs"
        self.jobs.mkdir()
        self.listed: dict[str, tuple[Setting, ...]] = {}
        self.follower = self.follow()

    def follow(self) -> JobFolder:
        motion = {"doorway-1": SLOW, "loft-1": SLOW}
        listed = lambda name: self.listed.get(name, ())  # noqa: E731
        return JobFolder(self.jobs, self.place / "kept", motion, Clock(), lambda name, files: None, print, listed)

    def seconds(self, times: int = 2) -> dict[str, float]:
        for _ in range(times):
            self.follower.look()
        return {name: file.plan.seconds for name, files in self.follower._plans.items() for file in files.values()}


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    made = Bench(tmp_path)
    (made.jobs / "thumb-ring.gcode").write_bytes(SAMPLES["thumb-ring.gcode"]())
    return made


FAST = (
    Setting("M201", (("X", 3000.0), ("Y", 3000.0))),
    Setting("M203", (("X", 200.0), ("Y", 200.0))),
    Setting("M204", (("P", 1250.0),)),
)


def test_plans_follow_what_the_machine_itself_lists(bench: Bench) -> None:
    before = bench.seconds()
    assert before["doorway-1"] == before["loft-1"]
    bench.listed["loft-1"] = FAST
    after = bench.seconds(1)
    assert after["doorway-1"] == before["doorway-1"]
    assert after["loft-1"] < before["loft-1"] - 30
    bench.listed.clear()
    assert bench.seconds(1) == before


def test_what_was_planned_for_the_same_limits_once_is_not_planned_again(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    from watchdog.service import folder

    bench.seconds()
    bench.listed["loft-1"] = FAST
    after = bench.seconds(1)

    def made_again(*_: object) -> None:
        raise AssertionError("planned again")

    monkeypatch.setattr(folder, "plan_file", made_again)
    monkeypatch.setattr(folder, "commands_of", made_again)
    assert bench.seconds(3) == after
    bench.follower = bench.follow()  # a restart, with the same word from before
    assert bench.seconds() == after


def test_each_file_brings_its_commands_once_for_all_machines(bench: Bench) -> None:
    bench.seconds()
    (one,) = bench.follower._plans["doorway-1"].values()
    (other,) = bench.follower._plans["loft-1"].values()
    assert one.commands is not None
    assert one.commands is other.commands
    for kept in (bench.place / "kept").glob("*.commands"):
        kept.write_bytes(kept.read_bytes()[:-1])
    bench.follower = bench.follow()
    bench.seconds()
    (again,) = bench.follower._plans["doorway-1"].values()
    assert again == one


def test_limits_from_the_settings_stand_where_the_machine_lists_nothing() -> None:
    assert from_settings_lines(SLOW, ()) == SLOW
    assert from_settings_lines(SLOW, (Setting("M203", (("X", 200.0),)),)) == replace(
        SLOW, speed=(200.0, 50.0, 5.0, 25.0)
    )
