"""Jobs that a host streams line by line: known by what is sent, and watched with their plans like card jobs."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest

from watchdog.core.effects import AlarmChanged, Effect, JobChanged, Noted, Transition
from watchdog.core.events import Line, Resumed, Tick
from watchdog.core.moment import Moment
from watchdog.core.outlook import JobFile, Outlook
from watchdog.core.snapshot import Job
from watchdog.core.step import Watch, World, begin, look, step
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.jobfile.commands import commands_of
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.planning import plan_file
from watchdog.service.frozen import freeze, thaw
from watchdog.service.replay import Heard
from watchdog.service.replay import run as replay
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine, Settings
from watchdog.simulator.jobs import SAMPLES, make_job
from watchdog.simulator.laboratory import EPOCH
from watchdog.simulator.machine import Options, SimulatedMachine

LIMITS = MachineLimits(homing=24.0, probing=40.0)
PREAMBLE = ("M110 N0", "M115", "M21", "G90", "M83", "M155 S2", "M117 sent by the desk", "M220 S100")
DROPPED = {"M73", "M117"}
"""what this host leaves out of a file: it shows progress by its own reckoning"""


@dataclass(frozen=True)
class Pause:
    """The host sends nothing of the job."""

    at: float
    """share of the file's lines"""
    seconds: float


@dataclass(frozen=True)
class Streamed:
    """What passed over the wire."""

    heard: tuple[Heard, ...]
    moved: float
    """s: the first move began, heating and homing behind it"""
    ended: float
    """s: the last move was over"""


class Host:
    """Sends a job's lines, each after the `ok` of the one before, with numbers and checksums; asks M105 in between."""

    def __init__(self, family: str, seed: int) -> None:
        self.machine = SimulatedMachine(Options(family=family), seed)
        self.heard: list[Heard] = []
        self.sent: list[str] = []  # by line number, from 0
        self.ready = self.again = False
        self.resend: int | None = None
        self.asked = self.moved = 0.0
        self.partial = b""

    def note(self, at: float, direction: Direction, text: str) -> None:
        self.heard.append((Moment(at, EPOCH + at), direction, text))

    def let(self, until: float) -> None:
        """Let time pass until then, or until the machine has said something."""
        machine = self.machine
        while machine.now < until:
            machine.advance(min(until, machine.next_event()))
            if self.listen():
                return

    def listen(self) -> bool:
        said = False
        if not self.moved and self.machine.controller.motion.planner.queue:
            self.moved = self.machine.now
        for at, piece in self.machine.spoken():
            *lines, self.partial = (self.partial + piece).split(b"\n")
            for raw in lines:
                text = raw.decode().strip()
                self.note(at, Direction.RECEIVED, text)
                said = True
                if text.startswith("ok"):
                    self.ready = True
                elif text.startswith("Resend:"):
                    self.resend = int(text.partition(":")[2])
        return said

    def write(self, text: str, *, noise: bool = False) -> None:
        self.note(self.machine.now, Direction.SENT, text)
        self.ready = False
        raw = text.encode()
        self.machine.receive((raw.replace(b"G", b"g", 1) if noise else raw) + b"\n")
        self.listen()

    def number(self, text: str, *, noise: bool = False) -> None:
        numbered = f"N{len(self.sent)} {text}"
        total = 0
        for byte in numbered.encode():
            total ^= byte
        self.sent.append(f"{numbered}*{total}")
        self.write(self.sent[-1], noise=noise)

    def wait(self, patience: float = 3600.0) -> None:
        """Wait for the `ok`, and send again what the machine asks for again."""
        give_up = self.machine.now + patience
        while not self.ready or self.resend is not None:
            assert self.machine.now < give_up, "the machine does not answer"
            if self.resend is not None:
                number, self.resend = self.resend, None
                self.write(self.sent[number])
            if not self.ready:
                self.let(self.machine.now + 1.0)

    def ask(self) -> None:
        if self.machine.now - self.asked >= 1.999:
            self.asked = self.machine.now
            self.write("M105")
            self.wait()

    def rest(self, seconds: float) -> None:
        until = self.machine.now + seconds
        while self.machine.now < until:
            self.ask()
            self.let(min(until, self.asked + 2.0))

    def stream(
        self, lines: Sequence[str], pauses: Sequence[Pause] = (), typed: Sequence[str] = (), noisy: int | None = None
    ) -> float:
        """Send it all; s when the last move was over. `noisy`: the line that arrives spoilt. `typed`: sent half way."""
        for nth, line in enumerate(lines):
            for pause in pauses:
                if nth == int(pause.at * len(lines)):
                    self.rest(pause.seconds)
            if nth == len(lines) // 2:
                for text in typed:
                    self.number(text)
                    self.wait()
            self.ask()
            self.number(line, noise=nth == noisy)
            self.wait()
        while self.machine.controller.motion.planner.queue:
            self.let(self.machine.now + 0.5)
        return self.machine.now


def lines_of(content: bytes) -> list[str]:
    """A file as this host sends it: no comments, no blank lines, nothing of what it drops."""
    bare = (line.partition(";")[0].strip() for line in content.decode().splitlines())
    return [line for line in bare if line and line.split()[0] not in DROPPED]


def streamed(content: bytes, *, family: str = "A", seed: int = 3, pauses: Sequence[Pause] = (), typed: Sequence[str] = (),
             preamble: Sequence[str] = PREAMBLE, noisy: int | None = 200) -> Streamed:  # fmt: skip
    host = Host(family, seed)
    host.note(0.0, Direction.REMARK, "link opened")
    host.let(3.0)
    for line in preamble:
        host.number(line)
        host.wait()
    host.rest(5.0)
    ended = host.stream(lines_of(content), pauses, typed, noisy)
    host.rest(40.0)
    return Streamed(tuple(host.heard), host.moved, ended)


@cache
def usual(name: str, family: str = "A") -> Streamed:
    return streamed(SAMPLES[name](), family=family)


@cache
def file_of(name: str, content: bytes) -> JobFile:
    with TemporaryDirectory() as folder:
        place = Path(folder) / name
        place.write_bytes(content)
        plan = plan_file(place, LIMITS)
        digest, own = commands_of(place)
        assert digest == plan.digest
        return JobFile(name, plan, own)


def samples(*names: str) -> tuple[JobFile, ...]:
    return tuple(file_of(name, SAMPLES[name]()) for name in names or SAMPLES)


def watch_with(files: tuple[JobFile, ...]) -> Watch:
    return replace(watch_of("loft-1", Machine(), Settings()), files=files)


def told(files: tuple[JobFile, ...], heard: Iterable[Heard]) -> list[Effect]:
    return [effect for effect in replay(watch_with(files), heard) if isinstance(effect, Effect)]


def seconds(watch: Watch, heard: Sequence[Heard], restart_at: float | None = None) -> Iterator[tuple[float, World]]:
    """The world at every second; with a restart, frozen and thawed after a minute that nobody saw."""
    world = begin(watch, heard[0][0])
    due, blind_until = 1.0, None
    for at, direction, text in heard:
        while due <= at.elapsed:
            if restart_at is not None and due >= restart_at and blind_until is None:
                thawed = thaw(watch, freeze(watch, world))
                assert thawed is not None
                world, blind_until = thawed[0], due + 60.0
            if blind_until is None or due > blind_until:
                if blind_until is not None and due - 1.0 <= blind_until:
                    world, _ = step(watch, world, Resumed(Moment(due, EPOCH + due), 60.0))
                world, _ = step(watch, world, Tick(Moment(due, EPOCH + due)))
                yield due, world
            due += 1.0
        if blind_until is None or at.elapsed > blind_until:
            world, _ = step(watch, world, Line(at, direction, text, read(direction, text)))


def plans(effects: Iterable[Effect]) -> list[Noted]:
    return [effect for effect in effects if isinstance(effect, Noted) and effect.kind == "plan"]


def raised(effects: Iterable[Effect]) -> list[AlarmChanged]:
    return [effect for effect in effects if isinstance(effect, AlarmChanged) and effect.transition is Transition.RAISED]


def ahead_at(watch: Watch, heard: Sequence[Heard], when: float) -> tuple[Outlook | None, Job | None]:
    for at, world in seconds(watch, heard):
        if at >= when:
            return world.outlook, look(watch, world, Moment(at, EPOCH + at)).job
    raise AssertionError("it ended before that")


@pytest.mark.parametrize("family", ["A", "A'", "B"])
@pytest.mark.parametrize("name", SAMPLES)
def test_a_streamed_job_is_known_by_its_content_within_its_first_minute(name: str, family: str) -> None:
    """A minute of motion: heating up and homing are the same for every file."""
    traffic = usual(name, family)
    effects = told(samples(), traffic.heard)
    (found,) = plans(effects)
    assert found.facts["recognised_by"] == "content"
    expected = float(str(found.facts["expected_s"]))
    assert expected == pytest.approx(file_of(name, SAMPLES[name]()).plan.seconds, rel=0.5)
    assert 0 < found.at.elapsed - traffic.moved <= 60.0
    assert [effect.event for effect in effects if isinstance(effect, JobChanged)] == ["started", "completed"]
    assert raised(effects) == []


@pytest.mark.parametrize("family", ["A", "B"])
@pytest.mark.parametrize("name", ["cleat-hook.gcode", "oar-collar.gcode"])
def test_half_way_the_time_left_is_within_five_per_cent_of_the_truth(name: str, family: str) -> None:
    traffic = usual(name, family)
    watch = watch_with(samples())
    (started,) = [effect.at.elapsed for effect in told(samples(), traffic.heard)
                  if isinstance(effect, JobChanged) and effect.event == "started"]  # fmt: skip
    half = (started + traffic.ended) / 2
    outlook, job = ahead_at(watch, traffic.heard, half)
    assert outlook is not None
    assert outlook.forecast is not None
    assert job is not None
    truth = traffic.ended - outlook.at
    assert outlook.forecast.left.middle == pytest.approx(truth, rel=0.05)
    assert outlook.forecast.left.low <= truth <= outlook.forecast.left.high
    assert job.expected_by == "plan"
    assert job.expected_late is not None
    assert job.expected_late > traffic.ended - job.started
    assert job.stall_limit is not None
    assert 5.0 <= job.stall_limit < 120.0


def test_a_stream_of_a_file_that_is_not_in_the_folder_has_no_plan() -> None:
    """It begins with the same heating, homing and first lines: those of every file of this profile."""
    unknown = make_job(layers=20, width=52, depth=30, spacing=1.2, probe=True, seconds=900)
    effects = told(samples(), streamed(unknown).heard)
    assert plans(effects) == []
    assert [effect.event for effect in effects if isinstance(effect, JobChanged)] == ["started", "completed"]


FEW = make_job(layers=10, width=52, depth=24, spacing=1.2, seconds=38 * 60)
MANY = make_job(layers=24, width=52, depth=24, spacing=1.2, seconds=38 * 60)


def test_files_that_begin_alike_are_told_apart_where_they_differ_and_not_before() -> None:
    """Ten layers, or twenty-four of the very same ones: whoever guesses is wrong every other time."""
    few, many = file_of("few.gcode", FEW), file_of("many.gcode", MANY)
    for content, right in ((FEW, few), (MANY, many)):
        traffic = streamed(content)
        watch = watch_with((few, many))
        named = {world.outlook.digest for _, world in seconds(watch, traffic.heard) if world.outlook is not None}
        assert named <= {None, right.plan.digest}
        if right is many:  # the short one differs in its last lines only
            assert right.plan.digest in named


def test_a_file_that_goes_on_otherwise_than_the_one_in_the_folder_is_let_go() -> None:
    """Sliced again with other upper layers: the plan of the first one would be wrong from there on."""
    lines = FEW.decode().splitlines(keepends=True)
    half = len(lines) // 2
    shifted = "".join([*lines[:half], *(line.replace("Y1", "Y2") for line in lines[half:])]).encode()
    traffic = streamed(shifted)
    watch = watch_with((file_of("few.gcode", FEW),))
    last = [world.outlook for _, world in seconds(watch, traffic.heard) if world.outlook is not None][-1]
    assert last.digest is None


@pytest.mark.parametrize("typed", [["M104 S210", "M106 S128", "G92 E0"], ["M106 S200"] * 3])
def test_what_somebody_types_meanwhile_does_not_lose_the_file(typed: list[str]) -> None:
    traffic = streamed(SAMPLES["oar-collar.gcode"](), typed=typed)
    watch = watch_with(samples())
    known = file_of("oar-collar.gcode", SAMPLES["oar-collar.gcode"]())
    outlooks = [world.outlook for _, world in seconds(watch, traffic.heard) if world.outlook is not None]
    assert known.commands is not None
    first = next(nth for nth, outlook in enumerate(outlooks) if outlook.digest is not None)
    assert {outlook.digest for outlook in outlooks[first:]} == {known.plan.digest}
    assert outlooks[-1].place is not None
    assert abs(outlooks[-1].place - known.commands.total) <= len(typed)


@pytest.mark.parametrize("seed", range(3))
def test_a_host_that_falls_silent_is_found_by_the_plan_s_own_limit(seed: int) -> None:
    """A computer that went to sleep leaves the hot nozzle on the part."""
    traffic = streamed(SAMPLES["oar-collar.gcode"](), seed=seed, pauses=[Pause(0.3 + 0.2 * seed, 360.0)])
    (stalled,) = [alarm for alarm in raised(told(samples(), traffic.heard)) if alarm.alarm == "job-stalled"]
    assert float(str(stalled.evidence["still_for_s"])) < 240
    (unplanned,) = [alarm for alarm in raised(told((), traffic.heard)) if alarm.alarm == "job-stalled"]
    assert float(str(unplanned.evidence["still_for_s"])) >= 300


def test_a_watch_that_was_restarted_in_a_streamed_job_knows_its_file_and_place_again() -> None:
    traffic = usual("cleat-hook.gcode")
    watch = watch_with(samples())
    restart = 0.4 * traffic.ended
    undisturbed, _ = ahead_at(watch, traffic.heard, 0.7 * traffic.ended)
    assert undisturbed is not None
    for at, world in seconds(watch, traffic.heard, restart):
        if at >= 0.7 * traffic.ended:
            assert world.outlook is not None
            assert world.outlook.digest == undisturbed.digest
            assert world.outlook.place is not None
            assert undisturbed.place is not None
            assert abs(world.outlook.place - undisturbed.place) <= 32
            return
    raise AssertionError("it ended before that")


def test_a_watch_that_comes_into_the_middle_of_a_job_finds_its_place_or_keeps_silent() -> None:
    traffic = usual("cleat-hook.gcode")
    watch = watch_with(samples())
    late = [line for line in traffic.heard if line[0].elapsed >= 0.3 * traffic.ended]
    whole = {at: world.outlook.place for at, world in seconds(watch, traffic.heard) if world.outlook is not None}
    found = 0
    for at, world in seconds(watch, late):
        place, truth = None if world.outlook is None else world.outlook.place, whole.get(at)
        if place is not None and truth is not None:
            assert abs(place - truth) <= 64
            found += 1
    assert found > 300


@pytest.mark.parametrize("family", ["A", "A'", "B"])
def test_a_line_that_was_sent_twice_counts_once(family: str) -> None:
    """Counted twice, every noisy line would put the plan a line ahead."""
    traffic = usual("thumb-ring.gcode", family)
    asked_again = [text for _, direction, text in traffic.heard if direction is Direction.RECEIVED and "Resend" in text]
    assert len(asked_again) == 1
    own = file_of("thumb-ring.gcode", SAMPLES["thumb-ring.gcode"]()).commands
    assert own is not None
    *_, (_, world) = seconds(watch_with(samples()), traffic.heard)
    assert world.machine.sent.own == own.total


@pytest.mark.parametrize("family", ["A", "A'", "B"])
def test_a_streamed_job_teaches_the_machine_s_pace(family: str) -> None:
    """Work against work: the wait for heat in front of it is no slowness of the machine."""
    *_, (_, world) = seconds(watch_with(samples()), usual("oar-collar.gcode", family).heard)
    (ratio,) = world.history.ratios
    assert ratio == pytest.approx(1.0, abs=0.05)
    (past,) = world.history.jobs
    assert past.heating > 60


def test_a_stream_that_is_stopped_in_its_program_is_no_finished_job_and_teaches_nothing() -> None:
    """Heat off, then quiet: only the file tells that half of it was never sent."""
    whole = lines_of(SAMPLES["oar-collar.gcode"]())
    host = Host("A", 3)
    host.note(0.0, Direction.REMARK, "link opened")
    host.let(3.0)
    for line in PREAMBLE:
        host.number(line)
        host.wait()
    host.rest(5.0)
    host.stream([*whole[: len(whole) // 2], "M104 S0", "M140 S0", "M107", "M84"])
    host.rest(400.0)
    effects = told(samples(), host.heard)
    (ended,) = [one for one in effects if isinstance(one, JobChanged) and one.event in {"completed", "abandoned"}]
    assert ended.event == "abandoned"
    assert ended.why is not None
    assert "commands" in ended.why
    *_, (_, world) = seconds(watch_with(samples()), host.heard)
    assert world.history.jobs == ()


def test_a_whole_stream_is_a_finished_job() -> None:
    effects = told(samples(), usual("oar-collar.gcode").heard)
    ended = [one.event for one in effects if isinstance(one, JobChanged) and one.event in {"completed", "abandoned"}]
    assert ended == ["completed"]
