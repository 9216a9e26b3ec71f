"""Sensors, spool and hours around a whole job: from their events to the alarm, with a restart at any place."""

import json
from collections.abc import Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from watchdog.core.effects import AlarmChanged, Effect, JobChanged, Noted, StateChanged, Transition
from watchdog.core.events import Allowed, Event, Line, Measured, SpoolSet, Tick
from watchdog.core.hours import Span, Week
from watchdog.core.moment import Moment
from watchdog.core.outlook import JobFile
from watchdog.core.sensors import SensorSpec
from watchdog.core.snapshot import SensorKind, Snapshot
from watchdog.core.step import Watch, World, begin, look, stale_sensors, step
from watchdog.core.timetable import Kind, Period, Timetable
from watchdog.dialect import read
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.jobfile.planning import plan_file
from watchdog.service.frozen import freeze, thaw
from watchdog.settings.fill import watch_of
from watchdog.settings.model import Machine, Settings
from watchdog.simulator.jobs import SAMPLES
from watchdog.simulator.laboratory import EPOCH, run

NAME = "oar-collar.gcode"
SCRIPT = f"at 10 s choose {NAME}\nat 12 s start"
DURATION = 2400.0
MOTION = SensorSpec("doorway-1-motion", SensorKind.FILAMENT_MOTION, stale_after=30.0)
DOOR = SensorSpec("doorway-1-door", SensorKind.DOOR, stale_after=3600.0)


@cache
def planned() -> JobFile:
    with TemporaryDirectory() as folder:
        file = Path(folder) / NAME
        file.write_bytes(SAMPLES[NAME]())
        return JobFile(NAME, plan_file(file, MachineLimits(homing=24.0, probing=40.0)))


def watch(**changes: Any) -> Watch:
    return replace(watch_of("doorway-1", Machine(), Settings()), files=(planned(),), **changes)


def hours(closes: float, *more: Period) -> Timetable:
    """Somebody is there until `closes` s after the beginning."""
    return Timetable(ZoneInfo("UTC"), None, (Period(EPOCH - 3600, EPOCH + closes, Kind.SUPERVISED), *more))


@cache
def job() -> tuple[Event, ...]:
    """Lines and ticks of the whole job."""
    made: list[Event] = []
    due = 1.0
    for line in run(SCRIPT, seed=11, duration=DURATION):
        at = Moment(line.stamp - EPOCH, line.stamp)
        while due <= at.elapsed:
            made.append(Tick(Moment(due, EPOCH + due)))
            due += 1.0
        made.append(Line(at, line.direction, line.text, read(line.direction, line.text)))
    return tuple(made)


def with_events(*extra: Event) -> list[Event]:
    return sorted([*job(), *extra], key=lambda event: event.at.elapsed)


def moment(elapsed: float) -> Moment:
    return Moment(elapsed, EPOCH + elapsed)


def played(watch: Watch, events: Iterable[Event], frozen_every: int = 0) -> tuple[World, list[Effect], list[Snapshot]]:
    world = begin(watch, moment(0.0))
    said: list[Effect] = []
    seen: list[Snapshot] = []
    for nth, event in enumerate(events, 1):
        if frozen_every and not nth % frozen_every:
            thawed = thaw(watch, freeze(watch, world))
            assert thawed is not None
            world = thawed[0]
        world, effects = step(watch, world, event)
        said += effects
        if isinstance(event, Tick):
            seen.append(look(watch, world, event.at))
    return world, said, seen


def raised(effects: Iterable[Effect]) -> list[str]:
    return [
        effect.alarm
        for effect in effects
        if isinstance(effect, AlarmChanged) and effect.transition is Transition.RAISED
    ]


def noted(effects: Iterable[Effect], kind: str) -> list[dict[str, Any]]:
    return [dict(effect.facts) for effect in effects if isinstance(effect, Noted) and effect.kind == kind]


def test_a_healthy_job_within_the_hours_says_nothing() -> None:
    _, effects, seen = played(watch(timetable=hours(4 * 3600)), job())
    assert raised(effects) == []
    late = [frame.finish_late for frame in seen if frame.finish_late is not None]
    end = next(effect.at.stamp for effect in effects if isinstance(effect, JobChanged) and effect.event == "completed")
    assert len(late) > 300
    assert min(late) >= end - 5  # it is an upper bound


def test_a_job_that_runs_into_the_evening_is_told_when_it_starts() -> None:
    """Then somebody can still put it off."""
    _, effects, _ = played(watch(timetable=hours(600)), job())
    first = next(effect for effect in effects if isinstance(effect, AlarmChanged))
    assert (first.alarm, first.transition) == ("outlasts-supervision", Transition.RAISED)
    began = next(effect for effect in effects if isinstance(effect, JobChanged) and effect.event == "started")
    assert first.at.elapsed - began.at.elapsed < 90
    assert raised(effects) == ["outlasts-supervision", "unsupervised-hot"]


def test_a_job_that_somebody_took_on_is_told_no_more() -> None:
    allow = Allowed(moment(400.0), "lead", "caretaker")
    world, effects, seen = played(watch(timetable=hours(600)), with_events(allow))
    assert noted(effects, "allowed-to-outlast") == [{"job": 1, "by": "lead", "stays": "caretaker", "how": "command"}]
    assert raised(effects) == ["outlasts-supervision"]  # said before somebody took it on
    assert world.allowed == 1
    assert next(frame.at for frame in seen if frame.may_outlast) == 401.0


def test_without_a_job_there_is_nothing_to_allow_and_the_next_one_is_not_meant() -> None:
    _, effects, seen = played(watch(timetable=hours(600)), with_events(Allowed(moment(5.0), "lead", "caretaker")))
    assert noted(effects, "not-allowed") == [{"by": "lead", "why": "no job runs"}]
    assert not any(frame.may_outlast for frame in seen)


def test_a_holiday_lifts_it_to_urgent() -> None:
    table = hours(600, Period(EPOCH + 600, EPOCH + 90_000, Kind.HOLIDAY))
    _, effects, _ = played(watch(timetable=table), job())
    hot = next(effect for effect in effects if isinstance(effect, AlarmChanged) and effect.alarm == "unsupervised-hot")
    assert hot.priority == "urgent"


def test_a_timetable_may_be_replaced_while_it_runs() -> None:
    """The calendar is read again; the watch goes on."""
    before, after = watch(timetable=hours(4 * 3600)), watch(timetable=hours(60))
    world, seen = begin(before, moment(0.0)), []
    for nth, event in enumerate(job()[:2000]):
        world, _ = step(before if nth < 1000 else after, world, event)
        if isinstance(event, Tick):
            seen.append(look(before if nth < 1000 else after, world, event.at).presence)
    assert next(there.supervised for there in seen if there is not None)
    assert seen[-1] is not None
    assert seen[-1].supervised is False


def test_a_week_that_ends_within_the_job_is_followed_to_the_second() -> None:
    week = Week(tuple((Span(0, 1440),) for _ in range(7)))
    world = begin(watch(timetable=Timetable(ZoneInfo("UTC"), week)), moment(0.0))
    assert look(watch(timetable=Timetable(ZoneInfo("UTC"), week)), world, moment(1.0)).presence is not None
    _, _, seen = played(watch(timetable=hours(600)), job()[:4000])
    last = max(frame.at for frame in seen if frame.presence is not None and frame.presence.supervised)
    assert last == 599.0


def test_the_spool_is_followed_through_the_job_and_told_to_be_short() -> None:
    plan = planned().plan
    whole = SpoolSet(moment(2.0), plan.filament * 0.8, "lead")
    world, effects, seen = played(watch(), with_events(whole))
    assert raised(effects) == ["spool-short"]
    assert noted(effects, "spool") == [{"left_mm": round(plan.filament * 0.8), "by": "lead", "before_mm": None}]
    assert world.spool is not None
    assert world.spool.left == 0.0
    needed = [frame.needed for frame in seen if frame.needed is not None]
    assert needed == sorted(needed, reverse=True)
    assert needed[0] > 0.95 * plan.filament


def test_a_full_spool_ends_with_what_the_job_left_on_it() -> None:
    plan = planned().plan
    world, effects, seen = played(watch(), with_events(SpoolSet(moment(2.0), 100_000.0, "lead")))
    assert raised(effects) == []
    assert world.spool is not None
    assert world.spool.left == pytest.approx(100_000.0 - plan.filament, abs=1.0)
    flows = [frame.flow_planned for frame in seen if frame.flow_planned]
    assert max(flows) < 20.0
    assert sum(flows) == pytest.approx(plan.filament, rel=0.2)  # mm/s, once a second


def measured(share: float) -> list[Event]:
    """A motion sensor that shows `share` of what the job's plan lets expect, from its middle on all of it is gone."""
    _, _, seen = played(watch(), job())
    made: list[Event] = []
    moved = last = 0.0
    for nth, frame in enumerate(seen):
        used = planned().plan.filament - (frame.needed if frame.needed is not None else planned().plan.filament)
        if frame.needed is not None:
            moved += max(0.0, used - last) * (1.0 if used < planned().plan.filament / 2 else share)
            last = used
        if not nth % 2:
            made.append(Measured(moment(frame.at + 0.5), MOTION.name, moved))
    return made


def test_a_jam_is_told_by_the_sensor_and_a_healthy_feed_is_not() -> None:
    watched = watch(sensors=(MOTION,))
    assert raised(played(watched, with_events(*measured(1.0)))[1]) == []
    _, effects, _ = played(watched, with_events(*measured(0.0)))
    assert raised(effects) == ["feed-slipping"]
    feed = [effect.after for effect in effects if isinstance(effect, StateChanged) and effect.axis == "condition.feed"]
    assert "fault" in feed


LOOKED_AHEAD = {"feed-slipping", "spool-short"}
"""judged by the outlook, which is worked out every 5 s and begins afresh with a restart: told some seconds apart"""


@pytest.mark.parametrize("every", [997, 1500])
def test_restarts_in_the_middle_change_nothing_of_what_is_said(every: int) -> None:
    watched = watch(sensors=(MOTION, DOOR), timetable=hours(600))
    extra = (
        SpoolSet(moment(2.0), planned().plan.filament * 0.8, "lead"),
        Measured(moment(20.0), DOOR.name, 0.0),
        Measured(moment(300.0), DOOR.name, 1.0),
        Allowed(moment(700.0), "lead", "caretaker"),
    )
    events = with_events(*measured(0.0), *extra)
    straight = played(watched, events)[1]
    again = played(watched, events, every)[1]
    assert raised(again) == raised(straight)
    assert (
        noted(again, "sensor") == noted(straight, "sensor") == [{"sensor": DOOR.name, "from": "closed", "to": "open"}]
    )
    told = [
        (effect.alarm, effect.transition, effect.at)
        for effect in straight
        if isinstance(effect, AlarmChanged) and effect.alarm not in LOOKED_AHEAD
    ]
    assert told == [
        (effect.alarm, effect.transition, effect.at)
        for effect in again
        if isinstance(effect, AlarmChanged) and effect.alarm not in LOOKED_AHEAD
    ]


def test_a_sensor_that_falls_silent_impairs_the_watch_and_makes_nothing_normal() -> None:
    watched = watch(sensors=(MOTION,))
    events = with_events(Measured(moment(10.0), MOTION.name, 5.0))[:1500]
    world, effects, seen = played(watched, events)
    at = seen[-1].at
    assert seen[-1].sensors[0].stale
    assert stale_sensors(world, watched, moment(12.0)) == ()
    (sentence,) = stale_sensors(world, watched, moment(at))
    assert MOTION.name in sentence
    assert stale_sensors(world, watch(), moment(at)) == ()
    assert raised(effects) == []


def test_a_world_stored_before_there_were_sensors_goes_on() -> None:
    watched = watch()
    world, _, _ = played(watched, job()[:500])
    parts = json.loads(freeze(watched, world))
    for name in ("readings", "spool", "allowed"):
        del parts[name]
    thawed = thaw(watched, json.dumps(parts))
    assert thawed is not None
    assert (thawed[0].readings, thawed[0].spool, thawed[0].allowed) == ((), None, None)
