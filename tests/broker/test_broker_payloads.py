"""The contract with whoever reads: names, versions, nothing that could name a pupil, and no payload that can do harm."""

import json

from hypothesis import given
from hypothesis import strategies as st

from watchdog.broker import payloads
from watchdog.broker.topics import Topics
from watchdog.core.alarms.standing import Acknowledgement, Phase, Shelf, Standing
from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import AlarmChanged, JobChanged, Noted, Priority, StateChanged, Transition
from watchdog.core.events import Line, Tick
from watchdog.core.moment import Moment
from watchdog.core.snapshot import Snapshot
from watchdog.core.step import begin, look, step
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.settings import Settings
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine
from watchdog.settings.sensors import Sensor

START = Moment(100.0, 1_772_443_867.412)
TOPICS = Topics("emberward/shelf")


def seen_after(*lines: str) -> tuple[Snapshot, Moment]:
    """doorway-1 after `lines`, a second each."""
    air = Sensor(machine="doorway-1", topic="air", kind="room-temperature")
    watch = watch_of("doorway-1", Machine(), Settings(sensors={"air": air}))
    world, at = begin(watch, START), START
    for text in lines:
        at = Moment(at.elapsed + 1, at.stamp + 1)
        direction = Direction.REMARK if text.startswith("link") else Direction.RECEIVED
        world = step(watch, world, Line(at, direction, text, read(direction, text)))[0]
        world = step(watch, world, Tick(at))[0]
    return look(watch, world, at), at


def test_a_state_says_what_is_known_and_null_where_nothing_is() -> None:
    seen, at = seen_after("link opened", "ok T:205.1 /205.0 B:60.0 /60.0 @:0 B@:0")
    told = payloads.state("doorway-1", seen, {"heat": "normal"}, at)
    assert json.loads(payloads.encode(told)) == {
        "v": 1,
        "at": "2026-03-02T09:31:09.412Z",
        "machine": "doorway-1",
        "link": "available",
        "execution": "unavailable",
        "hotend": "hot",
        "heard": "2026-03-02T09:31:09.412Z",
        "nozzle": {"now": 205.1, "target": 205.0},
        "bed": {"now": 60.0, "target": 60.0},
        "job": None,
        "conditions": {"heat": "normal"},
        "sensors": {"air": {"kind": "room-temperature", "value": None, "stale": False}},
    }
    blind = payloads.state("doorway-1", seen_after()[0], {}, START)
    assert (blind["link"], blind["hotend"], blind["heard"]) == ("unavailable", "unknown", None)
    assert blind["nozzle"] == {"now": None, "target": None}


def test_a_state_that_differs_in_nothing_but_its_time_is_the_same() -> None:
    seen, at = seen_after("link opened", "ok T:24.1 /0.0 B:23.0 /0.0 @:0 B@:0")
    told = payloads.state("doorway-1", seen, {}, at)
    later = payloads.state("doorway-1", seen, {}, Moment(at.elapsed + 5, at.stamp + 5))
    assert told["at"] != later["at"]
    assert payloads.same(told, later)
    assert not payloads.same(None, told)
    assert not payloads.same(told, {**later, "hotend": "hot"})


def test_a_job_is_told_without_the_name_of_its_file() -> None:
    """It can hold a pupil's name, and anybody on the network may read here."""
    seen, at = seen_after("link opened", "File opened: MARIAS~1.GCO Size: 812345", "SD printing byte 81234/812345")
    assert seen.job is not None
    assert seen.job.file is not None
    told = payloads.encode(payloads.state("doorway-1", seen, {}, at)).decode()
    assert json.loads(told)["job"]["size"] == 812345
    job = JobChanged(at, "started", 1, "MARIAS~1.GCO", 812345, "card", 0.0)
    told += payloads.encode(payloads.event("doorway-1", job)).decode()
    said: dict[str, float | int | str | None] = {
        "text": "Error in MARIAS~1.GCO",
        "file": "MARIAS~1.GCO",
        "kind": "card",
        "target": float("inf"),
    }
    alarm = AlarmChanged(at, "card-fault", 1, Transition.RAISED, Priority.HIGH, said, note="Marias part")
    told += payloads.encode(payloads.event("doorway-1", alarm)).decode()
    standing = Standing(Phase.UNACKNOWLEDGED, raised=at, evidence=said)
    told += payloads.encode(payloads.alarm("doorway-1", TABLE["card-fault"], standing, at)).decode()
    assert "maria" not in told.lower()
    assert '"kind":"card","target":null' in told


def test_an_alarm_is_there_until_it_is_cleared_and_acknowledged() -> None:
    row = TABLE["heat-runaway"]
    for phase in (Phase.UNACKNOWLEDGED, Phase.ACKNOWLEDGED, Phase.RETURNED):
        standing = Standing(
            phase,
            occurrence=3,
            raised=START,
            acknowledged=Acknowledgement("caretaker", "command", START),
            shelf=Shelf(500.0, "caretaker", "private words"),
        )
        told = payloads.alarm("doorway-1", row, standing, START)
        assert told is not None
        assert (told["phase"], told["occurrence"], told["priority"]) == (phase.value, 3, "urgent")
        assert (told["acknowledged_by"], told["shelved"]) == ("caretaker", True)
        assert b"private" not in payloads.encode(told)
    for phase in (Phase.NORMAL, Phase.MATURING):
        assert payloads.encode(payloads.alarm("doorway-1", row, Standing(phase), START)) == b""


def test_events_carry_their_kind_and_what_is_no_event_is_not_told() -> None:
    told = payloads.event("doorway-1", StateChanged(START, "execution", "ready", "preparing"))
    assert told == {
        "v": 1,
        "at": "2026-03-02T09:31:07.412Z",
        "machine": "doorway-1",
        "kind": "state",
        "axis": "execution",
        "from": "ready",
        "to": "preparing",
    }
    assert payloads.event("doorway-1", Noted(START, "plan", {"file": "x"})) is None


def test_who_acknowledges_says_so_as_text_or_as_json() -> None:
    said = {
        b"duty warden": "duty warden",
        b' {"by": "workshop lead", "more": 1} ': "workshop lead",
        b'"evening tutor"': "evening tutor",
        b"x" * 100: "x" * 80,
    }
    assert {payload: payloads.acknowledged_by(payload) for payload in said} == said
    nobody = [
        b"",
        b"  ",
        b"\xff",
        b"{}",
        b"[]",
        b'{"by": 1}',
        b'{"by": ""}',
        b"a\nb",
        b"\x1b[31m",
        b"[" * 900,
        b"x" * 2000,
    ]
    assert [payloads.acknowledged_by(payload) for payload in nobody] == [None] * len(nobody)


@given(st.binary(max_size=1500))
def test_whatever_comes_as_an_acknowledgement_is_a_short_line_or_nobody(payload: bytes) -> None:
    by = payloads.acknowledged_by(payload)
    assert by is None or (0 < len(by) <= 80 and by.isprintable())


def test_an_acknowledgement_s_topic_says_which_alarm_is_meant() -> None:
    assert TOPICS.acknowledged("emberward/shelf/machine/doorway-1/acknowledge/hot-idle") == ("doorway-1", "hot-idle")
    for other in (
        "machine/a/acknowledge/b",
        "emberward/shelf/machine/a/alarm/b",
        "emberward/shelf/machine/a/acknowledge/b/c",
    ):
        assert TOPICS.acknowledged(other) is None
