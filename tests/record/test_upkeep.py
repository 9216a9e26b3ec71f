"""What is due: counters since something was seen to, build surfaces, spools and their accounts."""

import math
from collections.abc import Iterator
from pathlib import Path

import pytest

from watchdog.core.effects import JobChanged
from watchdog.core.moment import Moment
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.minutes import Minute, Spread
from watchdog.record.sheets import OutOfOrder
from watchdog.record.spools import UnknownSpool, UnknownWeight
from watchdog.record.store import Record
from watchdog.record.surroundings import Excerpt
from watchdog.record.term_rows import HotTime, SpoolRow

HOUR = 3_600.0
BEGIN = 1_772_442_000.0  # a whole minute
ITEMS = ("build surface", "lubrication")
PER_MM = math.pi / 4 * 1.75**2 * 1.24 / 1_000  # g


def at(seconds: float) -> Moment:
    return Moment(100.0 + seconds, BEGIN + seconds)


@pytest.fixture
def record(tmp_path: Path) -> Iterator[Record]:
    with Record.open(tmp_path / "record.db", at(0)) as opened:
        yield opened


def run(
    record: Record, number: int, start: float, seconds: float, grams: float | None = 10.0, *, active: bool = True
) -> None:
    """A job from `start`, of whose time a tenth was held."""
    record.commit(Batch("doorway-1", at(start), (JobChanged(at(start), "started", number, None, None, "card", 0.0),)))
    end = at(start + seconds)
    mm = None if grams is None else grams / PER_MM
    summary = JobSummary(
        end, number, "card", at(start).stamp, "completed", seconds if active else None,
        active=seconds * 0.9 if active else None, filament_mm=mm, filament_g=grams,
    )  # fmt: skip
    record.commit(Batch("doorway-1", end, summaries=(summary,)))


def hot(record: Record, minutes: range, nozzle: float = 205.0) -> None:
    first = int(BEGIN // 60)
    spread = Spread(nozzle, nozzle, nozzle, 1)
    excerpt = Excerpt(minutes=tuple(Minute(first + nth, spread, nozzle) for nth in minutes))
    record.commit(Batch("doorway-1", at(0), surroundings=excerpt))


def test_counters_run_from_the_last_time_that_it_was_seen_to(record: Record) -> None:
    run(record, 1, 0, HOUR)
    run(record, 2, 2 * HOUR, HOUR, None)
    hot(record, range(60))
    hot(record, range(120, 180))
    hot(record, range(180, 200), nozzle=60.0)
    for _ in range(2):  # entered twice
        record.done("doorway-1", "lubrication", at=at(2 * HOUR).stamp, by="workshop lead", note="rods")
    surface, rods = record.upkeep("doorway-1", ITEMS, 150.0)
    assert (surface.done, surface.by, surface.jobs, surface.active, surface.hot) == (None, None, 2, 1.8 * HOUR, 120)
    assert (surface.grams, surface.jobs_without_grams, surface.jobs_without_time) == (10.0, 1, 0)
    assert (rods.done, rods.by, rods.note) == (at(2 * HOUR).stamp, "workshop lead", "rods")
    assert (rods.jobs, rods.active, rods.hot, rods.grams, rods.jobs_without_grams) == (1, 0.9 * HOUR, 60, 0.0, 1)


def test_what_was_done_stays_in_the_history(record: Record) -> None:
    for day in range(3):
        record.done("doorway-1", "lubrication", at=at(day * 86_400).stamp, by="workshop lead", note=f"{day}")
    record.done("loft-1", "nozzle", at=at(0).stamp, by="evening tutor")
    assert [one.note for one in record.upkeep_done("doorway-1")] == ["0", "1", "2"]
    assert [one.machine for one in record.upkeep_done(item="nozzle")] == ["loft-1"]
    assert record.upkeep("doorway-1", ["lubrication"], 150.0)[0].note == "2"


def test_an_entry_for_yesterday_counts_from_yesterday(record: Record) -> None:
    run(record, 1, 0, HOUR)
    run(record, 2, 2 * HOUR, HOUR)
    record.done("doorway-1", "nozzle", at=at(1.5 * HOUR).stamp, by="workshop lead")
    assert record.upkeep("doorway-1", ["nozzle"], 150.0)[0].jobs == 1


def test_a_job_whose_time_nobody_saw_is_counted_and_said(record: Record) -> None:
    run(record, 1, 0, HOUR, active=False)
    record.commit(Batch("doorway-1", at(9_000), (JobChanged(at(9_000), "started", 2, None, None, "card", 0.0),)))
    (row,) = record.upkeep("doorway-1", ["nozzle"], 150.0)
    assert (row.jobs, row.active, row.jobs_without_time) == (1, 0.0, 1)  # the second one still runs


def test_a_machine_that_did_nothing_owes_nothing(record: Record) -> None:
    (row,) = record.upkeep("loft-1", ["nozzle"], 150.0)
    assert (row.jobs, row.active, row.hot, row.grams, row.jobs_without_time, row.jobs_without_grams) == (
        0,
        0,
        0,
        0,
        0,
        0,
    )


def test_hot_minutes_are_told_apart_by_whether_a_job_ran(record: Record) -> None:
    run(record, 1, 600, 1_200)
    hot(record, range(60))
    assert record.hot_time("doorway-1", at(0).stamp, at(HOUR).stamp, 150.0) == HotTime(20, 40)
    assert record.hot_time("doorway-1", at(0).stamp, at(HOUR).stamp, 210.0) == HotTime(0, 0)
    assert record.hot_time("loft-1", at(0).stamp, at(HOUR).stamp, 150.0) == HotTime(0, 0)


def test_a_sheet_lives_from_one_change_to_the_next(record: Record) -> None:
    first = record.new_sheet("doorway-1", at=at(0).stamp, by="workshop lead", note="new batch")
    for number in range(1, 4):
        run(record, number, number * 1_000, 500)
    second = record.new_sheet("doorway-1", at=at(3_800).stamp, by="evening tutor", why="worn smooth")
    assert record.new_sheet("doorway-1", at=at(3_800).stamp, by="evening tutor", why="worn smooth") == second
    run(record, 4, 4_000, 500)
    assert record.sheet_off("doorway-1", at=at(5_000).stamp, by="evening tutor", why="torn")
    assert not record.sheet_off("doorway-1", at=at(5_001).stamp, by="evening tutor")
    run(record, 5, 6_000, 500)
    old, young = record.sheets("doorway-1")
    assert (old.id, old.jobs, old.ended, old.ended_by, old.why) == (
        first,
        3,
        at(3_800).stamp,
        "evening tutor",
        "worn smooth",
    )
    assert (old.note, old.started_by) == ("new batch", "workshop lead")
    assert (young.jobs, young.why) == (1, "torn")
    assert record.jobs()[0].sheet is None


def test_a_sheet_before_the_last_one_is_refused(record: Record) -> None:
    record.new_sheet("doorway-1", at=at(100).stamp, by="workshop lead")
    with pytest.raises(OutOfOrder, match="doorway-1: sheet 1 was in use after that time"):
        record.new_sheet("doorway-1", at=at(50).stamp, by="workshop lead")
    assert len(record.sheets()) == 1


def load(record: Record, seconds: float, net: float | None = 500.0, empty: float | None = 220.0) -> int:
    return record.load_spool(
        "doorway-1",
        at=at(seconds).stamp,
        by="workshop lead",
        material="PLA",
        density=1.24,
        diameter=1.75,
        net=net,
        empty=empty,
    )


def loaded(record: Record) -> SpoolRow:
    (row,) = record.spools("doorway-1", loaded_only=True)
    return row


def test_jobs_take_from_the_spool_what_they_used(record: Record) -> None:
    load(record, 0)
    run(record, 1, 100, 1_000, 40.0)
    run(record, 2, 2_000, 1_000, 60.0)
    spool = loaded(record)
    assert spool.left_g == pytest.approx(400.0)
    assert spool.left_mm == pytest.approx(400.0 / PER_MM)
    assert spool.used_mm == pytest.approx(100.0 / PER_MM)
    assert (spool.weighed, spool.jobs_without_length) == (None, 0)


def test_weighing_puts_the_account_right(record: Record) -> None:
    """What was fed by hand is in no account; the scale knows."""
    spool = load(record, 0)
    run(record, 1, 100, 1_000, 40.0)
    for _ in range(2):
        record.weigh_spool(spool, at=at(1_500).stamp, by="workshop lead", weight=670.0)
    run(record, 2, 2_000, 1_000, 50.0)
    run(record, 3, 4_000, 1_000, None)
    row = loaded(record)
    assert row.left_g == pytest.approx(400.0)
    assert (row.weighed, row.jobs_without_length, row.net) == (at(1_500).stamp, 1, 500.0)


def test_a_job_across_a_change_takes_its_share_from_both(record: Record) -> None:
    load(record, 0)
    run(record, 1, 1_000, 1_000, 40.0)
    load(record, 1_750)
    old, young = record.spools("doorway-1")
    assert old.unloaded == at(1_750).stamp
    assert [old.left_g, young.left_g] == pytest.approx([470.0, 490.0])
    assert load(record, 1_750) == young.id  # entered twice
    with pytest.raises(OutOfOrder):
        load(record, 1_700)
    assert record.unload_spool("doorway-1", at=at(9_000).stamp)
    assert record.spools(loaded_only=True) == ()


def test_a_spool_of_unknown_weight_has_no_known_rest(record: Record) -> None:
    """Nothing is worse than a rest that was made up: the job runs out at night."""
    spool = load(record, 0, net=None, empty=None)
    run(record, 1, 100, 1_000, 40.0)
    assert (loaded(record).left_mm, loaded(record).left_g) == (None, None)
    with pytest.raises(UnknownWeight, match="the weight of the empty spool is not known"):
        record.weigh_spool(spool, at=at(2_000).stamp, by="workshop lead", weight=670.0)
    with pytest.raises(UnknownSpool):
        record.weigh_spool(99, at=at(2_000).stamp, by="workshop lead", weight=670.0)


def test_a_measured_diameter_is_kept_and_used(record: Record) -> None:
    spool = load(record, 0)
    record.measure_filament("doorway-1", at=at(10).stamp, by="workshop lead", mm=1.82)
    record.measure_filament("loft-1", at=at(11).stamp, by="evening tutor", mm=1.74)
    with pytest.raises(UnknownSpool):
        record.measure_filament("loft-1", at=at(12).stamp, by="evening tutor", mm=1.74, spool=99)
    assert [(one.machine, one.spool, one.mm) for one in record.diameters()] == [
        ("doorway-1", spool, 1.82),
        ("loft-1", None, 1.74),
    ]
    row = loaded(record)
    assert row.diameter == 1.82
    assert row.left_mm == pytest.approx(500.0 / (math.pi / 4 * 1.82**2 * 1.24 / 1_000))
