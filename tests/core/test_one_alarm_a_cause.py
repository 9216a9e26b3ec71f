"""What only follows from another alarm is not told beside it: a whole machine, from lines to messages."""

from collections.abc import Iterable, Mapping, Sequence

import pytest

from watchdog.core import machine
from watchdog.core.alarms.table import TABLE
from watchdog.core.detectors import MACHINE
from watchdog.core.effects import Tell
from watchdog.core.events import Event, HostEnds, Line, Resumed, Tick
from watchdog.core.moment import Moment
from watchdog.core.observations import (
    Acknowledged,
    Action,
    CardProgress,
    Command,
    Fault,
    FaultKind,
    LinkUp,
    Observation,
    Reading,
    Resend,
    Temperatures,
)
from watchdog.core.snapshot import Source
from watchdog.core.step import Armed, Watch, begin, step
from watchdog.core.traffic import Direction

NOON = 1_772_539_200.0  # s since 1970: a Tuesday


def at(second: float) -> Moment:
    return Moment(second, NOON + second)


def told(source: Source, events: Iterable[Event]) -> list[str]:
    """The alarms that people were told of, in order."""
    watch = Watch("doorway-1", source, machine.Limits(), tuple(Armed(one, one.Limits()) for one in MACHINE), TABLE)
    world = begin(watch, at(0))
    names = []
    for event in events:
        world, effects = step(watch, world, event)
        names += [effect.alarm for effect in effects if isinstance(effect, Tell)]
    return names


def card_job(said: Mapping[int, Sequence[Observation]], held: range, seconds: int) -> Iterable[Event]:
    """A card job that is asked every two seconds; `held`: seconds in which its counter stands still."""
    yield Line(at(0), Direction.REMARK, "", (LinkUp(),))
    byte = 0
    for second in range(1, seconds):
        if second % 2:
            yield Line(at(second), Direction.RECEIVED, "", (Temperatures(Reading(205.0, 205.0), Reading(60.0, 60.0)),))
            byte += 0 if second in held or second < 5 else 400
            yield Line(at(second), Direction.RECEIVED, "", (CardProgress(byte, 900_000),))
        if second in said:
            yield Line(at(second), Direction.RECEIVED, "", tuple(said[second]))
        yield Tick(at(second))


def streamed(seconds: int, first: int = 0, number: int = 10, refused: int = 0, **words: float) -> Iterable[Event]:
    """Ten lines a second, each acknowledged at once; `refused`: every so many is asked for again."""
    for second in range(first, first + seconds):
        for tenth in range(10):
            number += 1
            moment = at(second + tenth / 10)
            place = tuple((letter, value + number / 100) for letter, value in words.items())
            yield Line(moment, Direction.SENT, "", (Command("G1", (*place, ("E", number / 5)), "", number),))
            if refused and number % refused == 0:
                yield Line(moment, Direction.RECEIVED, "", (Resend(number), Acknowledged()))
                yield Line(moment, Direction.SENT, "", (Command("G1", (*place, ("E", number / 5)), "", number),))
            yield Line(moment, Direction.RECEIVED, "", (Acknowledged(),))
        reading = Temperatures(Reading(205.0, 205.0), Reading(60.0, 60.0))
        yield Line(at(second + 0.95), Direction.RECEIVED, "", (reading,))
        yield Tick(at(second + 1))


def opening() -> Iterable[Event]:
    yield Line(at(0), Direction.REMARK, "", (LinkUp(),))
    for number, (code, words) in enumerate(
        [("M104", (("S", 205.0),)), ("G28", ()), ("G92", (("E", 0.0),)), ("G1", (("X", 1.0), ("E", 2.0)))]
    ):
        yield Line(at(0.1 * number), Direction.SENT, "", (Command(code, words, "", number),))
        yield Line(at(0.1 * number), Direction.RECEIVED, "", (Acknowledged(),))


def test_missing_filament_is_one_message_although_the_machine_also_waits() -> None:
    """Two messages of one cause are one too many: people begin to sort them by themselves."""
    out = (Action("filament_runout", "T0"), Fault(FaultKind.FILAMENT_OUT, "//action:filament_runout T0"))
    names = told(Source.SERIAL, card_job({100: out, 400: (Action("resumed", ""),)}, range(102, 402), 600))
    assert set(names) == {"filament-out"}
    assert len(names) == 2  # the alarm and its all-clear


def test_a_planned_wait_is_still_told_as_one() -> None:
    said = {100: (Action("paused", ""),), 400: (Action("resumed", ""),)}
    assert set(told(Source.SERIAL, card_job(said, range(102, 402), 600))) == {"waiting-for-person"}


def test_a_healthy_stream_tells_nothing() -> None:
    assert told(Source.LISTENING, (*opening(), *streamed(600, 1, X=1.0))) == []


def test_a_stream_that_feeds_in_place_is_told_once_and_within_seconds() -> None:
    def fed(seconds: int) -> list[str]:
        return told(Source.LISTENING, (*opening(), *streamed(60, 1, X=1.0), *streamed(seconds, 61, 610)))

    assert fed(14) == []  # 28 mm
    assert fed(20) == ["extruding-in-place"]


@pytest.mark.parametrize(("refused", "names"), [(50, {"link-errors"}), (1000, set())])
def test_a_noisy_cable_is_told_and_a_routine_one_is_not(refused: int, names: set[str]) -> None:
    assert set(told(Source.LISTENING, (*opening(), *streamed(600, 1, refused=refused, X=1.0)))) == names


def test_a_sleep_in_a_stream_is_told_once_whether_it_goes_on_or_not() -> None:
    before = (*opening(), *streamed(200, 1, X=1.0), Resumed(at(900), 699.0))
    assert told(Source.LISTENING, (*before, *streamed(200, 900, 2020, X=1.0))) == ["host-suspended"]
    assert told(Source.LISTENING, (*before, *(Tick(at(900 + n)) for n in range(1, 15)))) == ["host-suspended"]


def test_a_restart_that_is_planned_over_a_stream_is_told_once_and_taken_back() -> None:
    """Somebody calls it off; the same plan told again every half minute says nothing anew."""
    before = (*opening(), *streamed(200, 1, X=1.0))
    planned = [HostEnds(at(201 + nth), NOON + 3600, "reboot") for nth in range(3)]
    stream = tuple(streamed(60, 203, 2020, X=1.0))
    called_off = (HostEnds(at(263), None), *streamed(30, 263, 2620, X=1.0))
    assert told(Source.LISTENING, (*before, *planned, *stream)) == ["host-suspended"]
    assert told(Source.LISTENING, (*before, *planned, *stream, *called_off)) == ["host-suspended", "host-suspended"]
    assert told(Source.LISTENING, (HostEnds(at(0), NOON + 3600, "reboot"), *(Tick(at(n)) for n in range(60)))) == []
