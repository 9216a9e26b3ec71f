"""The pace of asking: what is due when, and what is never done."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from watchdog.core.observations import CardWriting, Firmware, LinkDown, LinkUp, Observation, Started
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.dialect.pace import Pace, Polling
from watchdog.dialect.polling import due, heard
from watchdog.dialect.queries import permitted

PACE = Pace()
STEP = 0.25  # s between two looks, as the serial source does it
REPORT = " T:204.87 /205.00 B:59.94 /60.00 @:71 B@:33"

LIST = ["echo:  M203 X200.00 Y200.00 Z12.00 E120.00", "echo:  M301 P22.20 I1.08 D114.00", "echo:  M205 J0.020"]
"""an answer to M503, in small"""

Answer = Callable[[str, float], list[tuple[float, str]]]
"""What a machine prints for a query sent at a time: lines with the delay in s until each."""


def answering(query: str, at: float) -> list[tuple[float, str]]:
    """A machine that answers at once, each answer with its `ok`."""
    answers = {
        "M105": ["ok" + REPORT],
        "M27": ["SD printing byte 4096/812345", "ok"],
        "M27 C": ["Current file: CLEAT~1.GCO cleat hook.gcode", "ok"],
        "M115": ["FIRMWARE_NAME:own build", "Cap:AUTOREPORT_TEMP:0", "ok"],
        "M503": [*LIST, "ok"],
    }
    return [(0.02, line) for line in answers.get(query, ["ok"])]


def answering_behind_its_ok(query: str, at: float) -> list[tuple[float, str]]:
    """A machine that says `ok` as it receives a line and answers later."""
    answers = {"M105": [REPORT], "M27": ["SD printing byte 4096/812345"], "M27 C": ["SD printing byte 4096/812345"]}
    return [(0.01, "ok"), *[(0.3, line) for line in answers.get(query, [])]]


@dataclass
class Bench:
    """The poller against a machine, on a clock of its own."""

    answer: Answer = answering
    idle: bool | None = False
    at: float = 0.0
    memory: Polling = field(default_factory=Polling)
    sent: list[tuple[float, str]] = field(default_factory=list)
    coming: list[tuple[float, str]] = field(default_factory=list)

    def hear(self, *observations: Observation) -> None:
        self.memory = heard(PACE, self.memory, self.at, observations)

    def say(self, line: str) -> None:
        self.hear(*read(Direction.RECEIVED, line))

    def run(self, seconds: float, every: dict[str, float] | None = None, step: float = STEP) -> list[str]:
        """Go on for `seconds`; `every`: lines that the machine prints by itself, with their interval in s. What was sent."""
        begun, end = len(self.sent), self.at + seconds
        due_lines = dict.fromkeys(every or {}, self.at)
        while self.at < end:
            for line, when in due_lines.items():
                if when <= self.at:
                    due_lines[line] = when + (every or {})[line]
                    self.say(line)
            self.memory, query = due(PACE, self.memory, self.at, self.idle)
            if query is not None:
                self.sent.append((self.at, query))
                self.coming += [(self.at + delay, line) for delay, line in self.answer(query, self.at)]
            self.at += step
            for item in sorted(self.coming, key=lambda item: item[0]):
                if item[0] <= self.at:
                    self.coming.remove(item)
                    self.say(item[1])
        return [query for _, query in self.sent[begun:]]

    def times(self, query: str) -> list[float]:
        return [at for at, sent in self.sent if sent == query]


@pytest.fixture
def bench() -> Bench:
    made = Bench()
    made.hear(LinkUp())
    return made


def gaps(times: list[float]) -> list[float]:
    return [later - earlier for earlier, later in pairwise(times)]


def test_nothing_is_asked_before_the_link_is_open_nor_after_it_is_gone() -> None:
    bench = Bench()
    assert bench.run(30) == []
    bench.hear(LinkUp())
    assert bench.run(1)[0] == "M105"
    bench.hear(LinkDown("cable pulled"))
    assert bench.run(30) == []


@pytest.mark.parametrize("answer", [answering, answering_behind_its_ok])
def test_a_machine_that_answers_is_asked_at_a_steady_pace(bench: Bench, answer: Answer) -> None:
    """Stale temperatures would make every heat alarm late."""
    bench.answer = answer
    bench.run(10)
    bench.sent.clear()
    bench.run(60)
    for query in ("M105", "M27"):
        assert len(bench.times(query)) >= 24
        assert max(gaps(bench.times(query))) <= PACE.temperature + 2 * STEP
        assert min(gaps(bench.times(query))) >= PACE.temperature
    assert bench.memory.unsupported <= {"M27 C"}


def test_a_caller_that_looks_once_a_second_and_a_little_early_keeps_the_pace(bench: Bench) -> None:
    """Ticks come a few milliseconds early or late; a turn skipped for that would make the readings three seconds old."""
    for tick in range(120):
        bench.at = tick + (0.004 if tick % 2 else -0.004) * (tick % 3)
        bench.memory, query = due(PACE, bench.memory, bench.at, False)
        if query is not None:
            bench.sent.append((bench.at, query))
            for _, line in answering(query, bench.at):
                bench.say(line)
    for query in ("M105", "M27"):
        assert max(gaps(bench.times(query)[2:])) < PACE.temperature + 0.1


def test_progress_is_asked_less_often_of_an_idle_machine(bench: Bench) -> None:
    bench.idle = True
    bench.run(60)
    assert min(gaps(bench.times("M27"))) >= PACE.progress_idle


def test_the_first_question_is_for_temperatures_and_no_other_until_the_machine_has_spoken(bench: Bench) -> None:
    bench.answer = lambda query, at: []
    bench.idle = True
    assert set(bench.run(120)) == {"M105"}


def test_a_silent_machine_is_asked_again_no_sooner_than_ten_seconds_later(bench: Bench) -> None:
    """Unanswered questions pile up in a small buffer and spoil the next command."""
    bench.run(10)
    bench.answer = lambda query, at: []
    before = len(bench.sent)
    bench.run(120)
    assert min(gaps([at for at, _ in bench.sent[before:]])) >= PACE.repeat
    assert len(bench.sent) - before >= 10


@pytest.mark.parametrize("sign", ["echo:busy: processing", " T:188.25 /205.00 B:59.94 /60.00 @:127 B@:33 W:?"])
def test_a_machine_that_says_it_is_busy_is_given_time(bench: Bench, sign: str) -> None:
    """During homing or heating an answer comes only afterwards."""
    bench.run(10)
    bench.answer = lambda query, at: []
    before = len(bench.sent)
    bench.run(50, every={sign: 2.0})
    assert len(bench.sent) - before <= 1


def test_a_lost_acknowledgement_does_not_end_the_asking_although_reports_go_on(bench: Bench) -> None:
    """One noisy byte must not leave the job's progress unwatched for hours."""
    bench.run(10)
    bench.answer = lambda query, at: []
    bench.run(10, every={REPORT: 2.0})
    bench.answer = answering
    bench.run(2 * PACE.patience, every={REPORT: 2.0})
    assert bench.at - bench.times("M27")[-1] <= 5


def test_what_the_machine_can_do_is_asked_once_and_only_when_idle(bench: Bench) -> None:
    assert "M115" not in bench.run(30)
    bench.idle = None
    assert "M115" not in bench.run(30)
    bench.idle = True
    assert bench.run(30).count("M115") == 1
    assert "M115" not in bench.run(300)


def reporting(query: str, at: float) -> list[tuple[float, str]]:
    """A machine that can report by itself."""
    if query == "M115":
        lines = ["FIRMWARE_NAME:own build", "Cap:AUTOREPORT_TEMP:1", "Cap:AUTOREPORT_SD_STATUS:1", "ok"]
        return [(0.1, line) for line in lines]
    return answering(query, at)


def test_the_machine_s_own_limits_are_asked_once_when_it_is_idle_and_has_described_itself(bench: Bench) -> None:
    """Some thousand bytes, so never in a job; but a plan is only as good as the limits that it is made for."""
    assert "M503" not in bench.run(60)
    bench.idle = None
    assert "M503" not in bench.run(60)
    bench.idle = True
    asked = bench.run(60)
    assert asked.count("M503") == 1
    assert asked.index("M503") > asked.index("M115")
    assert "M503" not in bench.run(600)
    bench.say("start")
    assert bench.run(60).count("M503") == 1
    bench.hear(LinkDown("pulled"), LinkUp())
    assert bench.run(60).count("M503") == 1


def test_a_machine_that_never_describes_itself_is_not_asked_for_its_limits(bench: Bench) -> None:
    bench.idle = True
    bench.answer = lambda query, at: [] if query == "M115" else answering(query, at)
    assert "M503" not in bench.run(600)


def test_nothing_else_is_asked_while_the_limits_are_listed(bench: Bench) -> None:
    """On a slow line the list takes seconds; more questions behind it would overrun a small buffer."""
    long_list = [f"echo:  M301 P22.20 I1.08 D{nth}" for nth in range(80)]

    def slowly(query: str, at: float) -> list[tuple[float, str]]:
        if query != "M503":
            return answering(query, at)
        return [(0.1 * nth, line) for nth, line in enumerate([*long_list, "ok"], 1)]

    bench.answer, bench.idle = slowly, True
    bench.run(60)
    (asked,) = bench.times("M503")
    after = min(at for at, _ in bench.sent if at > asked)
    assert after >= asked + 8.0
    assert bench.memory.listed


def test_a_machine_that_says_ok_before_the_list_is_let_finish(bench: Bench) -> None:
    def first_ok(query: str, at: float) -> list[tuple[float, str]]:
        if query != "M503":
            return answering(query, at)
        return [(0.01, "ok"), *((0.3 * nth, "M203 X200.00 Y200.00") for nth in range(1, 11))]

    bench.answer, bench.idle = first_ok, True
    bench.run(60)
    (asked,) = bench.times("M503")
    assert min(at for at, _ in bench.sent if at > asked) >= asked + 3.0


@pytest.mark.parametrize("refusal", ['echo:Unknown command: "M503"', None])
def test_a_machine_that_cannot_list_its_limits_is_left_alone(bench: Bench, refusal: str | None) -> None:
    def cannot(query: str, at: float) -> list[tuple[float, str]]:
        if query != "M503":
            return answering(query, at)
        return [] if refusal is None else [(0.02, refusal), (0.02, "ok")]

    bench.answer, bench.idle = cannot, True
    asked = bench.run(900)
    assert 1 <= asked.count("M503") <= 3
    assert "M503" not in bench.run(300)


BOTH = {REPORT: 2.0, "SD printing byte 4096/812345": 2.0}


def test_automatic_reports_replace_the_asking_while_they_come(bench: Bench) -> None:
    bench.answer, bench.idle = reporting, True
    asked = bench.run(10)
    assert asked.count("M155 S2") == 1
    assert asked.count("M27 S2") == 1
    bench.run(4, every=BOTH)
    assert bench.run(120, every=BOTH) == []


def test_asking_goes_on_when_automatic_reports_stop(bench: Bench) -> None:
    bench.answer, bench.idle = reporting, True
    bench.run(10)
    bench.run(30, every=BOTH)
    fell_silent = bench.at
    asked = bench.run(30)
    assert asked.count("M105") >= 8
    assert bench.times("M105")[-asked.count("M105")] - fell_silent <= PACE.report * PACE.missed + STEP
    assert asked.count("M27") >= 4


def test_automatic_reports_are_ordered_again_after_a_restart_even_in_a_job(bench: Bench) -> None:
    """A restart forgets them; without a new order the watch would go on polling through every blocking command."""
    bench.answer, bench.idle = reporting, True
    bench.run(10)
    bench.idle = False
    bench.say("start")
    asked = bench.run(10)
    assert asked[0] == "M105"
    assert {"M155 S2", "M27 S2"} <= set(asked)
    assert "M115" not in asked


@pytest.mark.parametrize("refusal", [["ok"], ['echo:Unknown command: "M27"', "ok"], ["Unknown M code: M27", "ok"]])
def test_what_brings_no_answer_is_not_asked_for_ever(bench: Bench, refusal: list[str]) -> None:
    def deaf_to_progress(query: str, at: float) -> list[tuple[float, str]]:
        return [(0.02, line) for line in refusal] if query == "M27" else answering(query, at)

    bench.answer = deaf_to_progress
    bench.run(20)
    assert len(bench.times("M27")) <= PACE.barren
    assert "M27" not in bench.run(120)
    bench.say("start")
    assert "M27" in bench.run(10)


def test_a_machine_without_sensors_is_still_asked_for_a_sign_of_life(bench: Bench) -> None:
    """A machine that is never asked cannot be told from a dead one."""
    bench.answer = lambda query, at: [(0.02, "ok")]
    bench.run(60)
    asked = bench.run(60)
    assert 4 <= asked.count("M105") <= 7


def test_the_file_is_asked_for_once_a_job(bench: Bench) -> None:
    bench.run(120)
    assert len(bench.times("M27 C")) == 1
    bench.say("Done printing file")
    bench.run(120)
    assert len(bench.times("M27 C")) == 2


def test_the_file_is_not_asked_for_when_the_machine_has_told_it(bench: Bench) -> None:
    bench.say("File opened: cleat~1.gco Size: 812345")
    assert "M27 C" not in bench.run(60)


def test_nothing_is_asked_while_a_file_is_written_to_the_card(bench: Bench) -> None:
    """Some machines would write the question into the file."""
    bench.run(10)
    bench.say("Writing to file: cleat.gco")
    assert bench.run(300) == []
    bench.say("Done saving file.")
    assert bench.run(2)[0] == "M105"


def test_a_late_temperature_answer_does_not_pass_for_the_answer_to_another_question() -> None:
    bench = Bench(answer=lambda query, at: [])
    bench.hear(LinkUp())
    bench.memory, query = due(PACE, bench.memory, 0.0, False)
    bench.say("ok" + REPORT)
    bench.memory, query = due(PACE, bench.memory, 0.5, False)
    assert query == "M27"
    bench.say("ok" + REPORT)
    assert bench.memory.outstanding == "M27"


LINES = st.sampled_from(
    [
        "ok",
        "ok" + REPORT,
        REPORT,
        "SD printing byte 4096/812345",
        "SD printing byte 0/0",
        "Not SD printing",
        "Current file: A.GCO",
        "File opened: a.gco Size: 7",
        "echo:busy: processing",
        "start",
        "wait",
        "Cap:AUTOREPORT_TEMP:1",
        "Cap:AUTOREPORT_SD_STATUS:1",
        "Cap:SDCARD:0",
        'echo:Unknown command: "M27 C"',
        "Unknown command:",
        "Done printing file",
        "echo:SD card ok",
        "FIRMWARE_NAME:own build",
        "echo:  M203 X200.00 Y200.00 Z12.00 E120.00",
        'echo:Unknown command: "M503"',
        "Writing to file: a",
        "Done saving file.",
        "Error:Printer halted. kill() called!",
    ]
)
HAPPENINGS = st.lists(
    st.one_of(
        st.tuples(st.just("line"), LINES),
        st.tuples(st.just("link"), st.sampled_from([LinkUp(), LinkDown("gone")])),
        st.tuples(st.just("wait"), st.floats(0.05, 30)),
    ),
    max_size=80,
)


def play(
    happenings: list[tuple[str, object]], idles: Iterator[bool | None]
) -> Iterator[tuple[str, object, float, bool | None]]:
    """Everything that happened and was sent, in order."""
    at, memory = 0.0, heard(PACE, Polling(), 0.0, (LinkUp(),))
    for kind, what in happenings:
        if kind == "wait":
            assert isinstance(what, float)
            at += what
        else:
            told = read(Direction.RECEIVED, what) if isinstance(what, str) else (what,)
            memory = heard(PACE, memory, at, told)  # type: ignore[arg-type]
            yield "heard", told, at, None
        idle = next(idles)
        memory, query = due(PACE, memory, at, idle)
        if query is not None:
            yield "sent", query, at, idle


@given(HAPPENINGS, st.lists(st.sampled_from([True, False, None]), min_size=81, max_size=81))
def test_whatever_happens_the_rules_of_asking_hold(
    happenings: list[tuple[str, object]], idles: list[bool | None]
) -> None:
    """Never two unanswered questions at once, nothing off the list, nothing long in a job, silence while a file is written."""
    owed_since: float | None = None
    owed = ""
    up, writing, described, listed = True, False, False, 0
    for kind, what, at, idle in play(happenings, iter(idles)):
        if kind == "heard":
            assert isinstance(what, tuple)
            for told in what:
                match told:
                    case LinkUp() | LinkDown():
                        up, owed_since, writing = isinstance(told, LinkUp), None, False
                        described, listed = False, 0
                    case Started():
                        owed_since, writing, listed = None, False, 0
                    case Firmware():
                        described = True
                    case CardWriting():
                        writing = told.on
                    case _ if type(told).__name__ == "Acknowledged":
                        described = described or owed == "M115"
                        listed += 3 if owed == "M503" and owed_since is not None else 0
                        owed_since = None
        else:
            assert isinstance(what, str)
            if what == "M503":
                listed += 1
                assert described
                assert listed <= 3
                assert idle is True
            owed = what
            assert permitted(what, idle)
            assert up
            assert not writing
            assert owed_since is None or at - owed_since >= PACE.repeat
            owed_since = at


@settings(deadline=None, max_examples=50)
@given(HAPPENINGS, st.sampled_from([answering, answering_behind_its_ok]))
def test_whatever_has_happened_a_machine_that_answers_again_is_asked_again(
    happenings: list[tuple[str, object]], answer: Answer
) -> None:
    """No history may leave the watch mute for good."""
    bench = Bench(answer=answer)
    bench.hear(LinkUp())
    for kind, what in happenings:
        if kind == "line":
            assert isinstance(what, str)
            bench.say(what)
        elif kind == "wait":
            assert isinstance(what, float)
            bench.at += what
        bench.memory, _ = due(PACE, bench.memory, bench.at, False)
    bench.say("Done saving file.")
    bench.run(40 * PACE.patience, step=2.0)
    bench.sent.clear()
    bench.run(60)
    assert len(bench.times("M105")) >= 24
    assert max(gaps(bench.times("M105"))) <= PACE.temperature + 2 * STEP
