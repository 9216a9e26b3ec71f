"""What is told that is no alarm: once, at the right moment, and never as 'all well' when that is not known."""

from array import array
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from tests.snapshots import plain as seen
from watchdog.core.effects import JobChanged, Tell, TellKind
from watchdog.core.hours import Span, Week
from watchdog.core.moment import Moment
from watchdog.core.notices import blind, day, digest, finished, first_layer
from watchdog.core.notices.notice import CLOSING, DIGEST, FIRST_LAYER, JOB_FINISHED, WAS_BLIND, WATCH_ON
from watchdog.core.plan import Plan
from watchdog.core.snapshot import Execution, Heater, Hotend, Job, Link, Origin, Snapshot
from watchdog.core.timetable import Kind, Period, Timetable

LISBON = ZoneInfo("Europe/Lisbon")
WEEK = Week((*((Span(780, 1260),) for _ in range(4)), (Span(600, 720), Span(780, 960)), (Span(600, 780),), ()))
"""Mon-Thu 13-21, Fri 10-12 and 13-16, Sat 10-13"""
HOURS = Timetable(LISBON, WEEK)
JOB = Job(3, Origin.CARD, None, 5000, 100.0, 0.0, progress=100, building_since=100.0)


def at(text: str) -> Moment:
    stamp = datetime.fromisoformat(text).replace(tzinfo=LISBON).timestamp()
    return Moment(stamp=stamp, elapsed=stamp)


def minutes(start: str, count: int) -> Iterator[Moment]:
    first = at(start)
    for minute in range(count):
        yield Moment(first.stamp + 60 * minute, first.elapsed + 60 * minute)


def local(tell: Tell) -> str:
    return datetime.fromtimestamp(tell.at.stamp, LISBON).strftime("%a %H:%M")


def plan(layers: tuple[int, ...] = (0, 1000, 2000)) -> Plan:
    return Plan(
        5000, "a", 500.0, 500.0, 1000.0, 100, array("I", [0, 5000]).tobytes(), array("d", [0.0, 500.0]).tobytes(),
        array("f", [0.0, 1000.0]).tobytes(), b"", b"", 1.0, (), layers, (), (), (), 0, (), 0, 0.0,
    )  # fmt: skip


BUILDING = {"execution": Execution.BUILDING, "job": JOB, "active": True, "hotend": Hotend.HOT}
NOW = Moment(1000.0, 1000.0)


def test_the_first_layer_is_told_when_the_second_begins_and_only_once() -> None:
    memory, told = first_layer.look(first_layer.Memory(), seen(**BUILDING), plan(), 99.0, NOW)
    assert told is None
    memory, told = first_layer.look(memory, seen(**BUILDING), plan(), 100.0, NOW)
    assert told is not None
    assert (told.kind, told.alarm, told.occurrence) == (TellKind.NOTICE, FIRST_LAYER, 3)
    assert first_layer.look(memory, seen(**BUILDING), plan(), 110.0, NOW) == (memory, None)
    another = seen(**BUILDING | {"job": replace(JOB, number=4)})
    assert first_layer.look(memory, another, plan(), 110.0, NOW)[1] is not None


@pytest.mark.parametrize(
    ("changes", "the_plan", "done"),
    [
        ({}, None, 200.0),
        ({}, plan((0,)), 200.0),
        ({}, plan(), None),
        ({}, plan(), 401.0),
        ({"execution": Execution.PAUSED}, plan(), 200.0),
        ({"job": None}, plan(), 200.0),
        ({"job": replace(JOB, ended=900.0)}, plan(), 200.0),
    ],
    ids=["no plan", "one layer", "progress unknown", "long past", "held", "no job", "over"],
)
def test_nobody_is_sent_to_a_first_layer_that_is_not_there_to_see(
    changes: dict[str, Any], the_plan: Plan | None, done: float | None
) -> None:
    assert first_layer.look(first_layer.Memory(), seen(**BUILDING | changes), the_plan, done, NOW)[1] is None


def test_a_finished_job_is_told_with_what_it_took() -> None:
    ended = JobChanged(NOW, "completed", 3, "PINTLE~1.GCO", 5000, "card", 3300.4)
    told = finished.look((ended,), seen(nozzle=Heater(now=180.0, target=0.0)))
    assert told is not None
    assert (told.alarm, told.occurrence, told.evidence) == (
        JOB_FINISHED,
        3,
        {"job": 3, "took_s": 3300, "nozzle": 180.0},
    )
    assert finished.look((ended._replace(event="abandoned"),), seen()) is None


def through(start: str, count: int, timetable: Timetable, machines: dict[str, Snapshot]) -> list[Tell]:
    memory = day.Memory()
    told: list[Tell] = []
    for moment in minutes(start, count):
        memory, said = day.look(memory, timetable, machines, moment)
        told += said
    return told


def test_a_week_has_one_beginning_and_one_closing_statement_a_day() -> None:
    """On Friday the long lunch is neither a closing nor a beginning."""
    told = through("2026-03-02T00:00", 7 * 1440, HOURS, {"doorway-1": seen()})
    assert [(tell.alarm, local(tell)) for tell in told if local(tell)[:3] in {"Mon", "Fri", "Sat", "Sun"}] == [
        (WATCH_ON, "Mon 13:00"),
        (CLOSING, "Mon 20:50"),
        (WATCH_ON, "Fri 10:00"),
        (CLOSING, "Fri 15:50"),
        (WATCH_ON, "Sat 10:00"),
        (CLOSING, "Sat 12:50"),
    ]
    assert len(told) == 12


def test_on_a_holiday_no_day_begins() -> None:
    monday = Period(at("2026-03-02T00:00").stamp, at("2026-03-03T00:00").stamp, Kind.HOLIDAY)
    told = through("2026-03-02T00:00", 1440, replace(HOURS, periods=(monday,)), {"doorway-1": seen()})
    assert told == []


@pytest.mark.parametrize("timetable", [None, replace(HOURS, trouble="lessons.ics could not be read")])
def test_without_hours_that_can_be_relied_on_nothing_is_stated(timetable: Timetable | None) -> None:
    assert day.look(day.Memory(), timetable, {"doorway-1": seen()}, at("2026-03-02T20:55"))[1] == ()


@pytest.mark.parametrize(
    ("changes", "fact"),
    [
        ({"hotend": Hotend.HOT}, "hot"),
        ({"hotend": Hotend.COOLING}, "hot"),
        ({"bed": Heater(now=24.0, target=60.0)}, "hot"),
        ({"link": Link.UNAVAILABLE, "hotend": Hotend.UNKNOWN, "active": None}, "unseen"),
        ({"hotend": Hotend.UNKNOWN}, "unknown"),
        ({"active": None}, "unknown"),
        ({"active": True}, "active"),
    ],
)
def test_closing_says_all_cold_only_when_every_machine_is_known_to_be(changes: dict[str, Any], fact: str) -> None:
    """'All cold' over a machine that nobody sees would send people home."""
    machines = {"doorway-1": seen(), "loft-1": seen(**changes)}
    (_, told) = day.look(day.Memory(opened=10**9), HOURS, machines, at("2026-03-02T20:55"))
    (statement,) = told
    assert statement.evidence["all_cold"] == 0
    assert statement.evidence[fact] == "loft-1"
    (_, calm) = day.look(day.Memory(opened=10**9), HOURS, {"doorway-1": seen()}, at("2026-03-02T20:55"))
    assert calm[0].evidence["all_cold"] == 1


def test_the_digest_comes_once_a_day_at_its_minute_over_both_changes_of_clocks() -> None:
    """Clocks go forward on 2026-03-29 and back on 2026-10-25 in Lisbon."""
    for start in ("2026-03-28T00:00", "2026-10-24T00:00"):
        memory, told = digest.Memory(), []
        for moment in minutes(start, 3 * 1440):
            if digest.due(memory, 20 * 60 + 30, LISBON, moment):
                memory, tell = digest.told({"jobs": 2}, LISBON, moment)
                told.append(tell)
        assert [local(tell)[4:] for tell in told] == ["20:30"] * 3
        assert {tell.alarm for tell in told} == {DIGEST}


def test_a_watch_that_was_off_at_the_minute_makes_the_digest_up_the_same_day() -> None:
    assert digest.due(digest.Memory(), 20 * 60, LISBON, at("2026-03-02T23:00"))
    assert not digest.due(digest.Memory(), 20 * 60, LISBON, at("2026-03-03T07:00"))


RUNNING = seen(**BUILDING)


@pytest.mark.parametrize(
    ("before", "after", "word"),
    [
        (seen(), seen(), "idle"),
        (seen(), seen(link=Link.UNAVAILABLE), "not-known"),
        (seen(), seen(job=replace(JOB, ended=900.0)), "job-came-and-went"),
        (seen(), RUNNING, "job-began"),
        (RUNNING, seen(job=replace(JOB, ended=900.0)), "job-ended"),
        (RUNNING, seen(**BUILDING | {"job": replace(JOB, number=4)}), "other-job"),
        (RUNNING, seen(**BUILDING | {"job": replace(JOB, progress=900)}), "job-moved"),
        (RUNNING, RUNNING, "job-stood"),
        (RUNNING, seen(**BUILDING | {"job": replace(JOB, progress=None)}), "not-known"),
        (RUNNING, seen(restarted_at=990.0), "restarted"),
    ],
)
def test_after_a_blind_time_it_is_said_what_the_machine_did_as_far_as_known(
    before: Snapshot, after: Snapshot, word: str
) -> None:
    told = blind.look(before, after, 600.0, 1, at("2026-03-02T14:00"))
    assert told is not None
    assert (told.alarm, told.evidence["meanwhile"], told.evidence["blind_s"]) == (WAS_BLIND, word, 600)
    assert told.since.stamp == at("2026-03-02T13:50").stamp


def test_a_blink_is_not_told() -> None:
    assert blind.look(seen(), seen(), 59.0, 1, NOW) is None
