"""`review`: a term on the terminal, as a page and for programs, out of the record or out of an export."""

import json
import re
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from watchdog.core.effects import JobChanged
from watchdog.core.moment import Moment
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.labels import Words
from watchdog.record.store import Record
from watchdog.record.term_rows import Result, Subject

Command = Callable[..., subprocess.CompletedProcess[str]]
MONDAY = 1_772_409_600.0  # 2026-03-02, midnight in Lisbon
TERM = ("--from", "2026-03-02", "--to", "2026-03-29")
SETTINGS = """
zone = "Europe/Lisbon"
filament_price = 21.0
review.sheet_price = 6.5
[machines.doorway-1]
port = "/dev/null"
"""


@pytest.fixture
def settled(config: Callable[[str], Path], tmp_path: Path) -> Path:
    """The settings of a house whose record holds forty jobs, four of them failed, the last on 29 March at 23:30."""
    (tmp_path / "state").mkdir()
    with Record.open(tmp_path / "state" / "incidents.db", Moment(0.0, MONDAY)) as record:
        for nth in range(1, 41):
            # the clocks go forward in the night to 29 March: 23:30 is 22:30Z
            start = MONDAY + nth * 50_000.0 if nth < 40 else MONDAY + 27 * 86_400 + 22.5 * 3600
            begun, ended = Moment(start - MONDAY, start), Moment(start - MONDAY + 3600, start + 3600)
            effects = (
                JobChanged(begun, "started", nth, "FILOMENA.GCO", 1000, "card", 0.0),
                JobChanged(ended, "completed", nth, "FILOMENA.GCO", 1000, "card", 3600.0),
            )
            summary = JobSummary(
                ended, nth, "card", start, "completed", 3600.0, 3600.0 + nth, planned=3600.0, filament_g=10.0
            )
            record.commit(Batch("doorway-1", ended, effects, summaries=(summary,)))
            said = (
                Words(Result.FAILED, cause="feed-tangle") if nth % 10 == 0 else Words(Result.GOOD, note="for Filomena")
            )
            record.label(Subject.JOB, nth, said, at=ended.stamp, by="Filomena", how="command")
    return config(SETTINGS)


def figures(emberward: Command, config: Path, *words: str | Path) -> dict[str, Any]:
    done = emberward("review", "--json", *words, "--config", config)
    assert done.returncode == 0, done.stderr
    told: dict[str, Any] = json.loads(done.stdout)
    return told


def test_a_term_on_the_terminal(emberward: Command, settled: Path) -> None:
    done = emberward("review", *TERM, "--config", settled)
    assert (done.returncode, done.stderr) == (0, "")
    shown = " ".join(done.stdout.split())
    assert (
        "From 2 March 2026 to 29 March 2026 the watch saw 40 jobs on 1 machine, 40 h 00 min of machine time." in shown
    )
    assert "36 came out good: 90 % (95 % interval 77 to 96 %)" in shown
    assert "40 g of filament (0.84 at the price that is set); most often named: feed-tangle, 4 of 4." in shown
    assert "too few to tell" in shown


def test_days_are_those_of_the_zone(emberward: Command, settled: Path) -> None:
    """The last job begins at 23:30 on the wall of the last day; by UTC alone it would be the same day, an hour earlier."""
    assert figures(emberward, settled, *TERM)["jobs"]["jobs"] == 40
    assert figures(emberward, settled, "--since", "2026-03-02", "--until", "2026-03-28")["jobs"]["jobs"] == 39
    told = figures(emberward, settled, *TERM)
    assert (told["since"], told["until"]) == ("2026-03-02T00:00:00.000Z", "2026-03-29T23:00:00.000Z")


def test_without_dates_it_is_the_last_fourteen_weeks(emberward: Command, settled: Path) -> None:
    told = figures(emberward, settled, "--until", "2026-06-07")
    assert told["since"] == "2026-03-02T00:00:00.000Z"
    assert told["jobs"]["jobs"] == 40


def test_a_term_that_is_not_over_ends_today_and_a_record_ahead_of_today_is_told_whole(
    emberward: Command, settled: Path, tmp_path: Path
) -> None:
    """Days to come would count as days without an alarm. A simulated term may well lie ahead."""
    running = figures(emberward, settled, "--since", "2026-03-02", "--until", "2999-12-31")
    assert running["jobs"]["jobs"] == 40
    assert running["until"] < "2999"
    with closing(sqlite3.connect(tmp_path / "state" / "incidents.db")) as record, record:
        record.execute("UPDATE job SET started = started + 4e10, ended = ended + 4e10")
    told = figures(emberward, settled, "--since", "3293-01-01", "--until", "3294-12-31")
    assert told["jobs"]["jobs"] == 40
    assert told["until"] < "3294"


def test_a_page_is_written_and_names_nobody(emberward: Command, settled: Path, tmp_path: Path) -> None:
    file = tmp_path / "term.html"
    done = emberward("review", *TERM, "--html", file, "--config", settled)
    assert (done.returncode, done.stdout, done.stderr) == (0, f"written: {file}\n", "")
    page = file.read_text("utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert "<svg" in page
    assert "filomena" not in page.lower()


def test_without_the_plotting_library_the_tables_come_alone(emberward: Command, settled: Path, tmp_path: Path) -> None:
    """A small computer need not carry it."""
    (tmp_path / "without" / "matplotlib").mkdir(parents=True)
    (tmp_path / "without" / "matplotlib" / "__init__.py").write_text("raise ImportError('not here')")
    file = tmp_path / "term.html"
    done = emberward("review", *TERM, "--html", file, "--config", settled, PYTHONPATH=str(tmp_path / "without"))
    assert done.returncode == 0
    assert "matplotlib is not installed" in done.stderr
    page = file.read_text("utf-8")
    assert "matplotlib is not installed" in page
    assert "<svg" not in page
    assert "feed-tangle" in page


def test_an_export_gives_the_same_review(emberward: Command, settled: Path, tmp_path: Path) -> None:
    folder = tmp_path / "export"
    assert emberward("export", folder, "--config", settled).returncode == 0
    own = figures(emberward, settled, *TERM)
    assert own["losses"]["failed"] == 4
    assert figures(emberward, settled, *TERM, "--export", folder) == own
    for file in folder.glob("*.jsonl"):
        file.unlink()
    assert figures(emberward, settled, *TERM, "--export", folder) == own


@pytest.mark.parametrize(
    ("words", "status", "complaint"),
    [
        (("--since", "2.3.2026"), 2, r"'2\.3\.2026' is no date. Write 2026-03-02"),
        (
            ("--since", "2026-03-02", "--until", "2026-03-01"),
            2,
            "would begin on 2026-03-02, after its last day, 2026-03-01",
        ),
        (("--since", "9000-01-01", "--until", "9000-02-01"), 2, "still to come"),
        (("--html", "/nowhere/at/all.html"), 1, "/nowhere/at/all.html: cannot be written"),
        (("--export", "/nowhere"), 1, r"/nowhere: no label.jsonl or label.csv"),
    ],
)
def test_mistakes_are_named(
    emberward: Command, settled: Path, words: tuple[str, ...], status: int, complaint: str
) -> None:
    done = emberward("review", *words, "--config", settled)
    assert (done.returncode, done.stdout) == (status, "")
    assert re.search(complaint, done.stderr)


def test_without_a_record_it_says_where_to_look(emberward: Command, config: Callable[[str], Path]) -> None:
    done = emberward("review", "--config", config(""))
    assert done.returncode == 1
    assert "there is no record yet" in done.stderr


def test_the_service_never_loads_the_plotting_library() -> None:
    """Nor does the command before a page is asked for: it is large."""
    rooms = "watchdog.cli.watch, watchdog.cli.review, watchdog.service.run, watchdog.settings"
    look = f"import sys, {rooms}; print([name for name in ('matplotlib', 'numpy', 'scipy') if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", look], check=True, capture_output=True, text=True)
    assert done.stdout == "[]\n"
