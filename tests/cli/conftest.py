"""Runs the real command in a process of its own, in an account that has set nothing."""

import math
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from watchdog.core.effects import AlarmChanged, JobChanged, Priority, Tell, TellKind, Transition
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.traffic import Direction
from watchdog.record.batch import Batch, JobSummary
from watchdog.record.parcels import Attempt, Outcome
from watchdog.record.store import Record
from watchdog.record.surroundings import Excerpt, Measured, RawLine

Done = subprocess.CompletedProcess[str]
Command = Callable[..., Done]


@pytest.fixture
def surroundings(tmp_path: Path) -> dict[str, str]:
    """The environment of the process: a home of its own and nothing of ours."""
    kept = {name: value for name, value in os.environ.items() if not name.upper().startswith(("EMBERWARD_", "XDG_"))}
    for name in ("CREDENTIALS_DIRECTORY", "STATE_DIRECTORY", "RUNTIME_DIRECTORY", "NOTIFY_SOCKET"):
        kept.pop(name, None)
    home = tmp_path / "home"
    home.mkdir()
    return kept | {"HOME": str(home), "XDG_RUNTIME_DIR": str(home / "run"), "COLUMNS": "100"}


@pytest.fixture
def emberward(surroundings: dict[str, str], tmp_path: Path) -> Command:
    """Runs one command to its end; environment variables by keyword."""

    def run(*words: str | Path, **environment: str) -> Done:
        return subprocess.run(
            [sys.executable, "-m", "watchdog", *map(str, words)],
            capture_output=True,
            text=True,
            env=surroundings | environment,
            cwd=tmp_path,
            timeout=90,
            check=False,
        )

    return run


@pytest.fixture
def config(tmp_path: Path) -> Callable[[str], Path]:
    """Writes a settings file whose state and socket lie in the test's own folder."""

    def write(text: str = "") -> Path:
        file = tmp_path / "emberward.toml"
        places = f'places.state = "{tmp_path}/state"\nplaces.socket = "{tmp_path}/control.sock"\n'
        file.write_text(places + text, encoding="utf-8")
        file.chmod(0o600)
        return file

    return write


BEGIN = Moment(5_000.0, 1_772_442_000.0)  # 2026-03-02T09:00:00Z


def at(seconds: float) -> Moment:
    return Moment(BEGIN.elapsed + seconds, BEGIN.stamp + seconds)


def job(
    record: Record, number: int, start: float, seconds: float, ending: str = "completed", grams: float = 8.0
) -> None:
    """A job of doorway-1 from `start` on; `seconds` long, nine tenths of it active."""
    record.commit(
        Batch("doorway-1", at(start), (JobChanged(at(start), "started", number, "R-014.GCO", 8000, "card", 0.0),))
    )
    end = at(start + seconds)
    summary = JobSummary(
        end, number, "card", at(start).stamp, ending, seconds, active=0.9 * seconds, held=0.1 * seconds, file="R-014.GCO",
        size=8000, planned=3000.0, planned_by="plan", material="PLA", filament_mm=grams / PER_MM, filament_g=grams,
    )  # fmt: skip
    record.commit(Batch("doorway-1", end, summaries=(summary,)))


PER_MM = math.pi / 4 * 1.75**2 * 1.24 / 1_000  # g/mm of PLA


@pytest.fixture
def logged(config: Callable[[str], Path], tmp_path: Path) -> Path:
    """Settings of a house with a record: three jobs of doorway-1 (j1 … j3), and in the second a hot nozzle that was taken on
    (incident 1, alarm a1)."""
    (tmp_path / "state").mkdir()
    with Record.open(tmp_path / "state" / "incidents.db", BEGIN) as record:
        job(record, 1, 0, 3600)
        job(record, 2, 7200, 3600, "abandoned")
        raised = AlarmChanged(at(8000), "hot-idle", 1, Transition.RAISED, Priority.HIGH, {"nozzle": 205.0})
        tell = Tell(at(8000), TellKind.ALARM, "hot-idle", 1, Priority.HIGH, at(8000), 1, {"nozzle": 205.0}, 300.0)
        seen = tuple(
            Measured(
                nth, at(7900 + 10 * nth), 180.0 + nth, 205.0, 55.0, 60.0, None if 5 < nth < 12 else 1000.0 + 100 * nth
            )
            for nth in range(30)
        )
        around = Excerpt((RawLine(0, at(8001), Direction.RECEIVED, "ok T:205.0 /0.0 \x1b[31mred\x07"),), seen)
        record.commit(
            Batch("doorway-1", at(8000), (raised, tell), (Order(tell, "workshop-lead", why="on duty"),), None, around)
        )
        record.log_attempts([Attempt(1, "push", at(8005).stamp, Outcome.DELIVERED, "")], {}, [1])
        for seconds, step, by in ((8060, Transition.ACKNOWLEDGED, "workshop lead"), (8180, Transition.RETURNED, None),
                                  (8190, Transition.CLEARED, None)):  # fmt: skip
            how = "command" if by else None
            change = AlarmChanged(at(seconds), "hot-idle", 1, step, Priority.HIGH, {"nozzle": 205.0}, by, how)
            record.commit(Batch("doorway-1", at(seconds), (change,)))
        job(record, 3, 14_400, 1800)
    return config('zone = "Europe/Lisbon"\n[machines.doorway-1]\nport = "/dev/null"\n')


@pytest.fixture
def record_of(tmp_path: Path) -> Callable[[], Record]:
    """Opens the record of `logged` for writing."""
    return lambda: Record.open(tmp_path / "state" / "incidents.db", at(20_000))
