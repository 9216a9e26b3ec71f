"""`label` alone: a walk through what nobody has judged, by single keys on a terminal, by lines without one."""

import os
import pty
import select
import subprocess
import sys
import termios
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from watchdog.record.store import Record
from watchdog.record.term_rows import LabelNow, Result, Subject, Usefulness

Open = Callable[[], Record]
PATIENCE = 60.0  # real s after which a test gives up


class Terminal:
    """The command on a real pseudo-terminal."""

    def __init__(self, config: Path, environment: dict[str, str]) -> None:
        self._ours, theirs = pty.openpty()
        self.before = termios.tcgetattr(theirs)
        self._theirs = theirs
        self._process = subprocess.Popen(
            [sys.executable, "-m", "watchdog", "label", "--config", str(config)],
            stdin=theirs, stdout=theirs, stderr=theirs, env=environment, start_new_session=True,
        )  # fmt: skip
        self.shown = ""

    def sees(self, words: str) -> None:
        """Wait until `words` are on the screen that were not there before."""
        deadline = time.monotonic() + PATIENCE
        while words not in self.shown:
            ready, _, _ = select.select([self._ours], [], [], max(0.0, deadline - time.monotonic()))
            assert ready, f"waited in vain for {words!r}; the screen:\n{self.shown}"
            self.shown += os.read(self._ours, 4096).decode("utf-8", "replace")
        self.shown = self.shown.partition(words)[2]

    def press(self, keys: str) -> None:
        os.write(self._ours, keys.encode())

    def ended(self) -> int:
        status = self._process.wait(PATIENCE)
        assert termios.tcgetattr(self._theirs) == self.before, "the terminal is left as it was"
        return status

    def close(self) -> None:
        if self._process.poll() is None:
            self._process.kill()
            self._process.wait(PATIENCE)
        for end in (self._ours, self._theirs):
            with suppress(OSError):
                os.close(end)


@pytest.fixture
def terminal(logged: Path, surroundings: dict[str, str]) -> Iterator[Terminal]:
    made = Terminal(logged, surroundings | {"TERM": "xterm", "PYTHONPATH": str(Path(__file__).parents[2])})
    try:
        yield made
    finally:
        made.close()


def now(record_of: Open, kind: Subject, number: int) -> LabelNow:
    with record_of() as record:
        return record.label_now(kind, number)


def test_one_key_each_judges_what_waits_newest_first(terminal: Terminal, record_of: Open) -> None:
    terminal.sees("1 of 4")
    terminal.sees("j3  doorway-1, a job of 2026-03-02 13:00: completed")
    terminal.sees("alarms meanwhile: none")
    terminal.sees("q quit")
    terminal.press("g")
    terminal.sees("j3: good")
    terminal.sees("2 of 4")
    terminal.sees("j2  doorway-1")
    terminal.sees("alarms meanwhile: hot-idle")
    terminal.press("f")
    terminal.sees("a feed-tangle")
    terminal.press("a")
    terminal.sees("j2: failed, feed-tangle")
    terminal.sees("3 of 4")
    terminal.sees("a1  doorway-1, hot-idle: nozzle hot and idle")
    terminal.sees("told 5 s after it began")
    terminal.sees("nozzle 205.0")
    terminal.press("l")
    terminal.sees("4 of 4")
    terminal.press("s")
    terminal.sees("3 judged; 1 wait")
    assert terminal.ended() == 0
    assert now(record_of, Subject.JOB, 3).outcome is Result.GOOD
    assert now(record_of, Subject.JOB, 2)[:3] == (Result.FAILED, "feed-tangle", "material")
    assert now(record_of, Subject.ALARM, 1).usefulness is Usefulness.LATE
    assert now(record_of, Subject.JOB, 1).outcome is None


def test_undo_adds_a_correcting_label_and_asks_again(terminal: Terminal, record_of: Open) -> None:
    terminal.sees("1 of 4")
    terminal.press("u")
    terminal.sees("nothing was said yet")
    terminal.press("g")
    terminal.sees("2 of 4")
    terminal.press("u")
    terminal.sees("j3: unknown")
    terminal.sees("1 of 4")
    terminal.press("f")
    terminal.sees("u back")
    terminal.press("u")
    terminal.sees("1 of 4")
    terminal.press("fs")
    terminal.sees("j3: failed")
    terminal.sees("2 of 4")
    terminal.press("q")
    terminal.sees("1 judged; 3 wait")
    assert terminal.ended() == 0
    with record_of() as record:
        said = [label.outcome for label in record.labels_of(Subject.JOB, 3)]
    assert said == [Result.GOOD, Result.UNKNOWN, Result.FAILED], "corrected, never erased"


def test_an_alarm_that_is_undone_is_judged_anew(terminal: Terminal, record_of: Open) -> None:
    terminal.sees("q quit")
    terminal.press("ssn")
    terminal.sees("a1: nuisance")
    terminal.press("u")
    terminal.sees("the earlier word stands until you do")
    terminal.press("y")
    terminal.sees("a1: useful")
    terminal.press("q")
    assert terminal.ended() == 0
    with record_of() as record:
        said = [label.usefulness for label in record.labels_of(Subject.ALARM, 1)]
    assert said == [Usefulness.NUISANCE, Usefulness.USEFUL]


def test_help_and_stray_keys_judge_nothing(terminal: Terminal, record_of: Open) -> None:
    """An arrow key sends letters, one of which would mean something here."""
    terminal.sees("q quit")
    terminal.press("?")
    terminal.sees("Of a job: g, the part is good")
    terminal.press("x")
    terminal.sees("'x' means nothing here")
    terminal.press("\x1b[F")
    terminal.press("\x1bOF")
    terminal.press("q")
    terminal.sees("0 judged; 4 wait")
    assert terminal.ended() == 0
    with record_of() as record:
        assert record.labels() == ()


def test_an_interrupted_walk_keeps_what_was_said_and_the_terminal_as_it_was(
    terminal: Terminal, record_of: Open
) -> None:
    terminal.sees("q quit")
    terminal.press("g")
    terminal.sees("2 of 4")
    terminal.sees("q quit")
    os.kill(terminal._process.pid, 2)
    assert terminal.ended() == 130
    assert now(record_of, Subject.JOB, 3).outcome is Result.GOOD


def test_without_a_terminal_lines_do(
    emberward: Callable[..., subprocess.CompletedProcess[str]],
    logged: Path,
    surroundings: dict[str, str],
    record_of: Open,
) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "watchdog", "label", "--machine", "doorway-1", "--config", str(logged)],
        input="good\n\nf\nb\n", capture_output=True, text=True, env=surroundings, timeout=PATIENCE, check=False,
        cwd=Path(__file__).parents[2],
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert "2 judged; 2 wait" in done.stdout
    assert now(record_of, Subject.JOB, 3).outcome is Result.GOOD
    assert now(record_of, Subject.JOB, 2)[:2] == (Result.FAILED, "filament-damp")


def test_when_all_is_judged_it_says_so(
    emberward: Callable[..., subprocess.CompletedProcess[str]], logged: Path
) -> None:
    for about, said in (
        ("j1", "--outcome=good"),
        ("j2", "--outcome=failed"),
        ("j3", "--outcome=good"),
        ("a1", "--useful=late"),
    ):
        assert emberward("label", about, said, "--config", logged).returncode == 0
    assert emberward("label", "--config", logged).stdout == "nothing waits to be judged\n"
