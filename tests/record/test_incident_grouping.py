"""Which alarms make one incident, and what is kept around it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from watchdog.core.effects import AlarmChanged, Noted, Priority, StateChanged, Transition
from watchdog.core.moment import Moment
from watchdog.core.traffic import Direction
from watchdog.record import incidents
from watchdog.record.batch import Batch, Committed
from watchdog.record.rows import Incident
from watchdog.record.store import Record
from watchdog.record.surroundings import Excerpt, Measured, RawLine

BASE = Moment(10_000.0, 1_772_442_000.0)


def at(seconds: float) -> Moment:
    return Moment(BASE.elapsed + seconds, BASE.stamp + seconds)


def step(seconds: float, alarm: str, transition: Transition, occurrence: int = 1) -> Batch:
    change = AlarmChanged(at(seconds), alarm, occurrence, transition, Priority.HIGH, {}, by="desk", how="command")
    return Batch("doorway-1", at(seconds), (change,))


def traffic(*seconds: float, since: int = 0) -> Excerpt:
    lines = tuple(RawLine(nth, at(s), Direction.RECEIVED, f"at {s}") for nth, s in enumerate(seconds, since))
    readings = tuple(Measured(nth, at(s), 200.0, 205.0, 60.0, 60.0, None) for nth, s in enumerate(seconds, since))
    return Excerpt(lines, readings)


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    with Record.open(tmp_path / "record.db", at(-3_600)) as opened:
        yield opened


def seen(record: Record, number: int) -> Incident:
    found = record.incident(number)
    assert found is not None
    return found


def names(record: Record, number: int) -> list[str]:
    return [alarm.alarm for alarm in seen(record, number).alarms]


def test_two_alarms_that_overlap_are_one_incident(record: Record) -> None:
    record.commit(step(0, "job-stalled", Transition.RAISED))
    record.commit(step(100, "hot-idle", Transition.RAISED))
    record.commit(step(200, "job-stalled", Transition.RETURNED))
    record.commit(step(200, "job-stalled", Transition.CLEARED))
    assert seen(record, 1).row.quiet is None
    record.commit(step(900, "hot-idle", Transition.RETURNED))
    assert names(record, 1) == ["job-stalled", "hot-idle"]
    assert seen(record, 1).row.quiet == at(900).stamp
    assert len(record.incidents()) == 1


@pytest.mark.parametrize(("gap", "together"), [(299.0, True), (300.0, True), (300.1, False), (3_600.0, False)])
def test_an_alarm_that_follows_within_five_minutes_belongs_to_the_incident(
    record: Record, gap: float, together: bool
) -> None:
    record.commit(step(0, "hot-idle", Transition.RAISED))
    record.commit(step(60, "hot-idle", Transition.RETURNED))
    record.commit(step(60, "hot-idle", Transition.CLEARED))
    record.commit(step(60 + gap, "job-stalled", Transition.RAISED))
    assert [row.alarms for row in reversed(record.incidents())] == (
        [("hot-idle", "job-stalled")] if together else [("hot-idle",), ("job-stalled",)]
    )


def test_machines_have_incidents_of_their_own(record: Record) -> None:
    record.commit(step(0, "hot-idle", Transition.RAISED))
    record.commit(step(1, "hot-idle", Transition.RAISED)._replace(machine="loft-1"))
    assert [row.machine for row in record.incidents()] == ["loft-1", "doorway-1"]


def test_the_window_runs_from_ten_minutes_before_to_five_minutes_after(record: Record) -> None:
    """What led to it and whether it stayed cured is what somebody looks for afterwards."""
    for seconds in (-601, -600, 0, 350, 360, 361):
        note = Noted(at(seconds), "link", {"s": seconds})
        change = StateChanged(at(seconds), "hotend", "hot", f"{seconds}")
        record.commit(Batch("doorway-1", at(seconds), (note, change)))
        record.commit(Batch("loft-1", at(seconds), (note, change)))
    around = traffic(-601, -600, -1)
    record.commit(step(0, "hot-idle", Transition.RAISED)._replace(surroundings=around))
    record.commit(step(60, "hot-idle", Transition.CLEARED))
    answer = record.commit(Batch("doorway-1", at(361), surroundings=traffic(59, 360, 360.5, since=3)))
    assert answer == Committed(None, 0)
    found = seen(record, 1)
    assert [note.facts["s"] for note in found.notes] == [-600, 0, 350, 360]
    assert [state.after for state in found.states] == ["-600", "0", "350", "360"]
    assert [line.text for line in found.lines] == ["at -600", "at -1", "at 59", "at 360"]
    assert [reading.at for reading in found.readings] == [at(s).stamp for s in (-600, -1, 59, 360)]


def test_the_service_is_told_how_long_an_incident_collects(record: Record) -> None:
    assert record.collecting("doorway-1", at(0)) is None
    assert record.commit(step(0, "hot-idle", Transition.RAISED)).incident == 1
    assert record.collecting("doorway-1", at(86_000)) == 1
    assert record.commit(step(60, "hot-idle", Transition.RETURNED)).incident == 1
    assert record.collecting("doorway-1", at(360)) == 1
    assert record.collecting("doorway-1", at(360.1)) is None
    assert record.collecting("loft-1", at(60)) is None


def test_lines_that_are_passed_again_are_kept_once(record: Record) -> None:
    """The excerpt of a second alarm overlaps with what was written for the first."""
    record.commit(step(0, "hot-idle", Transition.RAISED)._replace(surroundings=traffic(-3, -2, -1)))
    record.commit(step(5, "job-stalled", Transition.RAISED)._replace(surroundings=traffic(-3, -2, -1, 1, 4)))
    assert [line.text for line in seen(record, 1).lines] == ["at -3", "at -2", "at -1", "at 1", "at 4"]


def test_lines_without_an_incident_are_let_go(record: Record) -> None:
    record.commit(Batch("doorway-1", at(0), surroundings=traffic(-3, -2)))
    with record._looking() as pen:
        assert pen.all("SELECT * FROM raw_line") == []


def test_a_late_acknowledgement_does_not_make_it_collect_again(record: Record) -> None:
    """A latched alarm that is acknowledged next morning must not record a night of traffic."""
    record.commit(step(0, "heat-runaway", Transition.RAISED))
    record.commit(step(60, "heat-runaway", Transition.RETURNED))
    record.commit(step(50_000, "heat-runaway", Transition.ACKNOWLEDGED))
    assert record.commit(step(50_000, "heat-runaway", Transition.CLEARED)).incident is None
    found = seen(record, 1)
    assert found.row.quiet == at(60).stamp
    assert [one.transition for one in found.alarms[0].steps] == [
        Transition.RAISED,
        Transition.RETURNED,
        Transition.ACKNOWLEDGED,
        Transition.CLEARED,
    ]


@pytest.mark.parametrize("later", [False, True], ids=["alone", "after a newer incident"])
@pytest.mark.parametrize("word", ["came-back", "escalated"])
def test_a_latched_alarm_that_comes_back_goes_on_in_its_incident(record: Record, word: str, later: bool) -> None:
    """The same occurrence, not acknowledged in between: the second rise of heat must be recorded like the first."""
    record.commit(step(0, "heat-runaway", Transition.RAISED))
    record.commit(step(60, "heat-runaway", Transition.RETURNED))
    if later:
        record.commit(step(5_000, "hot-idle", Transition.RAISED))
        record.commit(step(5_010, "hot-idle", Transition.CLEARED))
    assert record.collecting("doorway-1", at(8_000)) is None
    note = Noted(at(8_000), "came-back", {"alarm": "heat-runaway", "occurrence": 1, "silenced_by": None})
    back = Batch("doorway-1", at(8_000), (note,))
    if word == "escalated":
        back = step(8_000, "heat-runaway", Transition.ESCALATED)
    assert record.commit(back).incident == 1
    record.commit(Batch("doorway-1", at(8_005), surroundings=traffic(8_001, 8_004)))
    assert record.commit(step(8_010, "heat-runaway", Transition.RETURNED)).incident == 1
    record.commit(back)  # committed again: it does not come back once more
    found = seen(record, 1)
    assert found.row.quiet == at(8_010).stamp
    assert found.alarms[0].returned == at(8_010).stamp
    assert [line.text for line in found.lines] == ["at 8001", "at 8004"]
    assert record.collecting("doorway-1", at(9_000)) is None


def test_an_alarm_that_stands_for_days_does_not_swallow_what_follows(record: Record) -> None:
    record.commit(step(0, "silent", Transition.RAISED))
    record.commit(step(86_399, "hot-idle", Transition.RAISED))
    record.commit(step(86_401, "job-stalled", Transition.RAISED))
    assert [row.alarms for row in record.incidents()] == [("job-stalled",), ("silent", "hot-idle")]


def test_what_follows_an_incident_is_kept_with_it_while_an_old_alarm_stands(record: Record) -> None:
    record.commit(step(0, "silent", Transition.RAISED))
    record.commit(step(90_000, "hot-idle", Transition.RAISED))
    record.commit(step(90_060, "hot-idle", Transition.CLEARED))
    record.commit(Batch("doorway-1", at(90_100), surroundings=traffic(90_090)))
    assert [line.text for line in seen(record, 2).lines] == ["at 90090"]
    assert record.collecting("doorway-1", at(91_000)) == 1


def test_an_alarm_raised_afresh_does_not_stand_twice(record: Record) -> None:
    record.commit(step(0, "hot-idle", Transition.RAISED))
    record.commit(step(50, "hot-idle", Transition.RAISED, occurrence=2))
    assert [alarm.occurrence for alarm in record.standing()] == [2]
    assert seen(record, 1).alarms[0].let_go == at(50).stamp


def test_a_step_of_an_alarm_that_the_record_never_saw_raised_is_kept(record: Record) -> None:
    record.commit(step(0, "hot-idle", Transition.SHELVED, occurrence=0))
    record.commit(step(1, "hot-idle", Transition.CLEARED))
    assert record.incidents() == ()
    assert [event.what for event in record.events()] == ["hot-idle cleared", "hot-idle shelved"]


def test_a_long_incident_keeps_its_beginning_and_its_end(record: Record) -> None:
    """Three hours of a hot idle nozzle: the cause is in the first minutes, the cure in the last."""
    record.commit(step(0, "hot-idle", Transition.RAISED))
    for start in range(0, 21_000, 3_000):
        seconds = [second * 0.25 for second in range(start, start + 3_000)]
        record.commit(Batch("doorway-1", at(seconds[-1]), surroundings=traffic(*seconds, since=start)))
    found = seen(record, 1)
    assert len(found.lines) <= incidents.MOST_ROWS
    assert len(found.readings) <= incidents.MOST_ROWS
    assert len(found.lines) + found.lines_dropped == 21_000
    assert len(found.readings) + found.readings_dropped == 21_000
    assert [line.text for line in found.lines[:3]] == ["at 0.0", "at 0.25", "at 0.5"]
    assert found.lines[-1].text == f"at {20_999 * 0.25}"
    assert found.lines[14_999].text == f"at {14_999 * 0.25}"


def test_lines_that_the_ring_could_not_hold_are_counted(record: Record) -> None:
    around = traffic(-2, -1)._replace(dropped=340)
    record.commit(step(0, "hot-idle", Transition.RAISED)._replace(surroundings=around))
    assert seen(record, 1).lines_dropped == 340
