"""What a machine has done since something of it was last seen to. Counted from the rows of its jobs and minutes.

There is no counter that could go wrong: a job that is committed twice is one row, and a batch that a power cut took was never
there. A job counts once it has ended.
"""

from collections.abc import Iterable

from watchdog.record.pen import Pen
from watchdog.record.term_rows import DoneRow, UpkeepRow


def done(pen: Pen, machine: str, item: str, at: float, by: str, note: str) -> None:
    """`item` was seen to at `at`. The same entry twice is one."""
    pen.run(
        "INSERT INTO upkeep (machine, item, at, by_whom, note) VALUES (?, ?, ?, ?, ?)"
        " ON CONFLICT (machine, item, at) DO NOTHING",
        machine,
        item,
        at,
        by,
        note,
    )


def counted(pen: Pen, machine: str, items: Iterable[str], hot_from: float) -> tuple[UpkeepRow, ...]:
    """What `machine` has done since each of `items`."""
    return tuple(_counted(pen, machine, item, hot_from) for item in items)


def _counted(pen: Pen, machine: str, item: str, hot_from: float) -> UpkeepRow:
    last = pen.one(
        "SELECT at, by_whom, note FROM upkeep WHERE machine = ? AND item = ? ORDER BY at DESC LIMIT 1", machine, item
    )
    done, by, note = last if last is not None else (None, None, None)
    since = -1e300 if done is None else done
    jobs = pen.one(
        "SELECT count(*), coalesce(sum(coalesce(active, seconds)), 0.0), coalesce(sum(filament_g), 0.0),"
        " coalesce(sum(active IS NULL AND seconds IS NULL), 0), coalesce(sum(filament_g IS NULL), 0)"
        " FROM job WHERE machine = ? AND ended > ?",
        machine,
        since,
    )
    assert jobs is not None  # a count has a row
    count, active, grams, without_time, without_grams = jobs
    hot = pen.one(
        "SELECT count(*) FROM telemetry WHERE machine = (SELECT id FROM machine WHERE name = ?) AND minute * 60.0 >= ?"
        " AND nozzle_high >= ?",
        machine,
        since,
        round(hot_from * 10),
    )
    assert hot is not None
    return UpkeepRow(machine, item, done, by, note, count, active, hot[0], grams, without_time, without_grams)


def history(pen: Pen, machine: str | None, item: str | None) -> tuple[DoneRow, ...]:
    """What was seen to, oldest first."""
    rows = pen.all(
        "SELECT machine, item, at, by_whom, note FROM upkeep WHERE (? IS NULL OR machine = ?) AND (? IS NULL OR item = ?)"
        " ORDER BY at, id",
        machine,
        machine,
        item,
        item,
    )
    return tuple(DoneRow(*row) for row in rows)
