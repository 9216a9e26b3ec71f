"""`due`, `done` and `sheet`: counters that begin anew, and how long a build surface lasts."""

import json
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from watchdog.core.effects import JobChanged
from watchdog.core.moment import Moment
from watchdog.record.batch import Batch
from watchdog.record.labels import Words
from watchdog.record.store import Record
from watchdog.record.term_rows import Result, Subject
from watchdog.service.digest import sum_up
from watchdog.settings.load import load_log_part

Command = Callable[..., subprocess.CompletedProcess[str]]
Open = Callable[[], Record]
NINE = 1_772_442_000.0  # 2026-03-02T09:00:00Z


def due(emberward: Command, config: Path, *words: str) -> dict[str, dict[str, Any]]:
    done = emberward("due", "--json", *words, "--config", config)
    assert done.returncode == 0, done.stderr
    return {row["item"]: row for row in map(json.loads, done.stdout.splitlines())}


def test_the_usual_things_are_counted_from_the_first_job(emberward: Command, logged: Path) -> None:
    rows = due(emberward, logged)
    assert {
        item: (row["jobs"], row["active"], row["grams"], row["due"]) for item, row in rows.items()
    } == dict.fromkeys(("build-surface", "nozzle-height", "lubrication", "nozzle"), (3, 0.9 * 9000, 24.0, False))
    assert (rows["build-surface"]["every_jobs"], rows["build-surface"]["share"]) == (25, 0.12)
    assert (rows["nozzle"]["every_hours"], rows["nozzle"]["done"]) == (500.0, None)
    shown = emberward("due", "--config", logged).stdout
    assert "doorway-1  build-surface  3 of 25 jobs  (never entered: since the first job)" in shown
    assert shown.endswith("nothing is due\n")


def test_what_is_done_begins_anew_exactly_then_and_stays_in_the_history(
    emberward: Command, logged: Path, record_of: Open
) -> None:
    """One job too many or too few, and a sheet is thrown away early or tears a part."""
    done = emberward(
        "done", "nozzle-height", "--at", "2026-03-02T10:30:00+00:00", "--by", "workshop lead", "--config", logged
    )
    assert done.returncode == 0, done.stderr
    row = due(emberward, logged)["nozzle-height"]
    assert (row["jobs"], row["done"], row["by"]) == (2, "2026-03-02T10:30:00.000Z", "workshop lead")
    assert emberward("done", "nozzle-height", "--config", logged).returncode == 0
    assert due(emberward, logged)["nozzle-height"]["jobs"] == 0
    with record_of() as record:
        assert len(record.upkeep_done("doorway-1", "nozzle-height")) == 2


def test_what_is_not_kept_is_refused_with_the_nearest(emberward: Command, logged: Path, record_of: Open) -> None:
    done = emberward("done", "lubricaton", "--config", logged)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr == "'lubricaton' is nothing that is kept for doorway-1. Did you mean lubrication?\n"
    done = emberward("done", "nozzle", "--machine", "attic", "--config", logged)
    assert "there is no machine 'attic'. Say which: doorway-1." in done.stderr
    ahead = emberward("done", "nozzle", "--at", "2099-01-01", "--config", logged)
    assert (ahead.returncode, ahead.stderr) == (2, "2099-01-01 lies ahead. Enter it when it has been done.\n")
    with record_of() as record:
        assert record.upkeep_done() == ()


def test_the_settings_change_and_add_what_is_kept(emberward: Command, logged: Path) -> None:
    logged.write_text(
        logged.read_text()
        + "[machines.loft-1]\nport = '/dev/zero'\n"
        + "[upkeep.build-surface]\nevery_jobs = 3\n[upkeep.nozzle]\nmachines = []\n"
        + "[upkeep.feed-wheel]\nevery_grams = 20\nevery_jobs = 30\nmachines = ['doorway-1']\n"
    )
    rows = [json.loads(line) for line in emberward("due", "--json", "--config", logged).stdout.splitlines()]
    kept = {(row["machine"], row["item"]) for row in rows}
    assert kept == {
        (machine, item)
        for machine in ("doorway-1", "loft-1")
        for item in ("build-surface", "nozzle-height", "lubrication")
    } | {("doorway-1", "feed-wheel")}
    assert [(row["item"], row["share"], row["due"]) for row in rows[:2]] == [
        ("feed-wheel", 1.2, True), ("build-surface", 1.0, True),
    ]  # fmt: skip
    shown = emberward("due", "--machine", "doorway-1", "--config", logged).stdout
    assert "DUE   [####################]  doorway-1  feed-wheel  24 of 20 g" in shown
    assert "emberward done ITEM --machine NAME" in shown
    settings = load_log_part(logged)
    with Record.open(logged.parent / "state" / "incidents.db", Moment(0, NINE)) as record:
        facts = sum_up(record, settings, NINE, NINE + 86_400)
    assert facts["due"] == "feed-wheel of doorway-1 (24 of 20 g), build-surface of doorway-1 (3 of 3 jobs)"


def test_the_digest_says_nothing_of_upkeep_when_nothing_is_due(logged: Path) -> None:
    with Record.open(logged.parent / "state" / "incidents.db", Moment(0, NINE)) as record:
        facts = sum_up(record, load_log_part(logged), NINE, NINE + 86_400)
    assert "due" not in facts
    assert (facts["jobs"], facts["completed"], facts["unlabelled"]) == (3, 2, 4)


def test_another_sheet_counts_from_nothing_and_tells_what_the_old_one_bore(
    emberward: Command, logged: Path, record_of: Open
) -> None:
    first = emberward("sheet", "new", "--at", "2026-03-02T08:00+00:00", "--by", "workshop lead", "--config", logged)
    assert (first.returncode, first.stdout) == (0, "doorway-1: sheet 1 is on\n")
    second = emberward("sheet", "new", "--at", "2026-03-02T12:30+00:00", "--why", "worn", "--config", logged)
    assert second.stdout == "doorway-1: sheet 2 is on; the one before bore 2 jobs\n"
    assert due(emberward, logged)["build-surface"]["jobs"] == 1
    shown = emberward("sheet", "--config", logged).stdout
    assert "doorway-1  sheet 2, on since 2026-03-02 12:30, has borne 1 job\n" in shown
    assert "doorway-1  sheet 1, until 2026-03-02 12:30, bore 2 jobs, worn\n" in shown
    assert "cannot be told yet: it takes 5 worn-out ones (1 worn-out sheets and 1 that lasted" in shown
    off = emberward("sheet", "off", "--why", "cleaned", "--config", logged)
    assert off.stdout == "doorway-1: the sheet is off; it bore 1 job\n"
    again = emberward("sheet", "off", "--config", logged)
    assert (again.returncode, again.stdout) == (1, "")
    assert "no sheet was on" in again.stderr
    early = emberward("sheet", "new", "--at", "2026-03-02T12:00+00:00", "--config", logged)
    assert early.returncode == 1
    assert "was in use after that time" in early.stderr
    with record_of() as record:
        assert [(sheet.jobs, sheet.why) for sheet in record.sheets("doorway-1")] == [(2, "worn"), (1, "cleaned")]


@pytest.fixture
def sheets(config: Callable[[str], Path], tmp_path: Path) -> Path:
    """Seven sheets that bore 4, 6, 6, 8, 9, 5 and 3 jobs: the first four were worn, the fifth failed a job by its eighth, the
    sixth gave way to another material, the last is on."""
    (tmp_path / "state").mkdir()
    with Record.open(tmp_path / "state" / "incidents.db", Moment(0, NINE)) as record:
        stamp, number = NINE, 0
        ends = (*["worn"] * 4, "torn", "other-material", None)
        for nth, (borne, why) in enumerate(zip((4, 6, 6, 8, 9, 5, 3), ends, strict=True)):
            before = (None, *ends)[nth]
            record.new_sheet("doorway-1", at=stamp, by="workshop lead", why=before)
            for age in range(borne):
                number += 1
                stamp += 3600
                begun = JobChanged(Moment(stamp - NINE, stamp), "started", number, None, None, "card", 0.0)
                record.commit(Batch("doorway-1", begun.at, (begun,)))
                if (nth, age) == (4, 7):
                    worn = Words(Result.FAILED, "surface-worn", "machine")
                    record.label(Subject.JOB, number, worn, at=stamp, by="tutor", how="command")
            stamp += 60
            assert why is not None or nth == 6
    return config("[machines.doorway-1]\n")


def test_the_life_of_a_sheet_is_estimated_with_an_interval(sheets: Path, emberward: Command) -> None:
    """Ends at 4, 6, 6, 8, 8 jobs; 5 and 3 at least. By hand (product limit): S(4) = 5/6, S(6) = 5/6 · 1/2 = 5/12, so half are
    worn after 6. Before 4 the limits cover nothing below one half; after 8 none is left."""
    done = emberward("sheet", "--config", sheets)
    assert (done.returncode, done.stderr) == (0, "")
    last = done.stdout.splitlines()[-1]
    assert last.startswith("half of the sheets are worn out after 6 jobs (95 %: ")
    assert "5 worn-out sheets and 2 that lasted at least" in last
    facts = json.loads(emberward("sheet", "--json", "--config", sheets).stdout)
    assert (facts["lives_ended"], facts["still_lasting"], facts["jobs"]["middle"]) == (5, 2, 6)
    assert facts["jobs"]["low"] <= 6 <= (facts["jobs"]["high"] or 99)
