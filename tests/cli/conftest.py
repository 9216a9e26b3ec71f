"""Runs the real command in a process of its own, in an account that has set nothing."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

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
