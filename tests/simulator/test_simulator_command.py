"""`python -m watchdog.simulator` as somebody at a terminal or a test uses it."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from watchdog.simulator.__main__ import main


def started(*arguments: str) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, "-m", "watchdog.simulator", *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        cwd=Path(__file__).parents[2],
    )


def test_it_obeys_lines_on_stdin_and_tells_what_happens(tmp_path: Path) -> None:
    link = tmp_path / "machine"
    with started("--link", str(link), "--rate", "100") as machine:
        assert machine.stdin is not None
        assert machine.stdout is not None
        assert machine.stdout.readline() == f"0.0 s ready: {link}\n"
        assert os.path.realpath(link).startswith("/dev/")

        def ask(line: str) -> str:
            assert machine.stdin is not None
            assert machine.stdout is not None
            machine.stdin.write(line + "\n")
            machine.stdin.flush()
            return machine.stdout.readline()

        assert ask("fault stall").endswith(" s fault stall\n")
        assert ask("heal").endswith(" s heal\n")
        assert ask("panel cool").endswith(" s panel: cool\n")
        assert ask("panel dance").startswith("not understood: nothing is called 'dance'")
        assert ask("choose hull.gcode") == "not on the card: hull.gcode\n"
        machine.stdin.write("quit\n")
        machine.stdin.flush()
        assert machine.wait(10) == 0
    assert not link.is_symlink()


def test_a_fault_is_brought_about_in_a_job(tmp_path: Path) -> None:
    with started("--link", str(tmp_path / "m"), "--rate", "2000", "--fault", "stall", "--at", "10%") as machine:
        assert machine.stdout is not None
        told = [machine.stdout.readline().partition(" s ")[2].strip() for _ in range(4)]
        assert machine.stdin is not None
        machine.stdin.write("quit\n")
        machine.stdin.flush()
        assert machine.wait(10) == 0
    assert told[1:] == ["panel: choose cleat-hook.gcode", "panel: start", "fault stall"]


def test_a_script_with_mistakes_starts_nothing(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    script = tmp_path / "lesson.txt"
    script.write_text("at 5 s strat\n", encoding="utf-8")
    assert main(["--link", str(tmp_path / "m"), "--script", str(script)]) == 2
    assert "line 1: nothing is called 'strat'; did you mean 'start'?" in capsys.readouterr().err
    assert main(["--link", str(tmp_path / "m"), "--job", str(tmp_path / "none.gcode")]) == 2
    assert not (tmp_path / "m").is_symlink()


@pytest.mark.parametrize("rate", ["0", "-3", "nan"])
def test_a_rate_that_is_none_is_refused(tmp_path: Path, rate: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as refused:
        main(["--link", str(tmp_path / "m"), "--rate", rate])
    assert refused.value.code == 2
    assert "--rate: more than 0" in capsys.readouterr().err
