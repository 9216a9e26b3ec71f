"""The face: help, version, exit statuses."""

import subprocess
import sys
from collections.abc import Callable
from importlib.metadata import entry_points
from pathlib import Path

import pytest

from watchdog import __version__

COMMANDS = (
    "watch", "demo", "replay", "status", "incidents", "show", "acknowledge", "shelve", "unshelve", "expect", "test-alert",
)  # fmt: skip
REPLAY = Path(__file__).parents[1] / "recordings" / "replay"
Command = Callable[..., subprocess.CompletedProcess[str]]


def test_help_names_every_command_and_the_caution(emberward: Command) -> None:
    done = emberward("--help")
    assert (done.returncode, done.stderr) == (0, "")
    for command in COMMANDS:
        assert f"\n    {command}" in done.stdout
    assert "no safety device" in " ".join(done.stdout.split())
    assert "evacuate and call the fire service" in " ".join(done.stdout.split())


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_explains_itself(command: str, emberward: Command) -> None:
    done = emberward(command, "--help")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith(f"usage: emberward {command} ")
    assert "no safety device" in " ".join(done.stdout.split())


def test_the_version_is_the_packages(emberward: Command) -> None:
    done = emberward("--version")
    assert (done.returncode, done.stdout) == (0, f"emberward {__version__}\n")


def test_the_installed_command_is_the_same() -> None:
    (entry,) = entry_points(group="console_scripts", name="emberward")
    assert entry.value == "watchdog.__main__:main"


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("wacth",),
        ("watch", "--chekc"),
        ("watch", "--rate", "fast"),
        ("watch", "--rate", "0.5"),
        ("watch", "--rate", "nan"),
        ("demo", "--rate", "1000"),
        ("replay",),
        ("show",),
        ("show", "1", "--lines", "-3"),
        ("acknowledge",),
        ("shelve", "silent"),
        ("shelve", "silent", "--for", "a while"),
        ("expect", "soon"),
        ("incidents", "--limit", "-1"),
        ("incidents", "--limit", "many"),
        ("status", "--config", "no-such.toml"),
        ("watch", "--config", "no-such.toml"),
    ],
)
def test_wrong_usage_is_told_with_status_2_on_stderr(words: tuple[str, ...], emberward: Command) -> None:
    done = emberward(*words)
    assert done.returncode == 2, done
    assert done.stdout == ""
    assert done.stderr
    assert "Traceback" not in done.stderr


def test_a_reader_that_has_seen_enough_is_no_fault(surroundings: dict[str, str]) -> None:
    """`emberward replay … | head` must not end in a traceback."""
    command = [sys.executable, "-m", "watchdog", "replay", "--json", str(REPLAY / "hot-after-a-load.traffic")]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=surroundings
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.readline()
        process.stdout.close()
        told = process.stderr.read()
    assert told == ""
    assert process.returncode == 0


def test_nothing_is_coloured_where_no_terminal_reads(emberward: Command, config: Callable[[str], Path]) -> None:
    for words in (("--help",), ("status", "--config", config("")), ("watch", "--check", "--config", config(""))):
        done = emberward(*words)
        assert "\x1b" not in done.stdout + done.stderr
