"""Settings files in a folder of their own, and an environment without anybody's settings."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from watchdog.settings import BadSettings, load


@pytest.fixture(autouse=True)
def _empty_environment(monkeypatch: pytest.MonkeyPatch) -> None:
    handed = ("CREDENTIALS_DIRECTORY", "STATE_DIRECTORY", "RUNTIME_DIRECTORY", "XDG_CONFIG_HOME", "XDG_STATE_HOME")
    for name in os.environ:
        if name.upper().startswith("EMBERWARD_") or name in (*handed, "XDG_RUNTIME_DIR"):
            monkeypatch.delenv(name)


@pytest.fixture
def written(tmp_path: Path) -> Callable[[str], Path]:
    """Writes a settings file that only its owner can read."""

    def write(text: str, name: str = "emberward.toml") -> Path:
        file = tmp_path / name
        file.write_text(text, encoding="utf-8")
        file.chmod(0o600)
        return file

    return write


@pytest.fixture
def mistakes(written: Callable[[str], Path]) -> Callable[[str], list[str]]:
    """What is wrong with a settings file, one text a mistake, without the file's own name."""

    def judge(text: str) -> list[str]:
        file = written(text)
        try:
            load(file)
        except BadSettings as bad:
            return [str(problem).removeprefix(f"{file}: ") for problem in bad.problems]
        return []

    return judge
