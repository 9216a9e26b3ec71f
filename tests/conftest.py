"""What every room's tests share."""

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

# A busy computer makes any example slow; nothing here asserts a time.
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--regold", action="store_true", help="write the golden files anew; the commit says why each change is right"
    )


@pytest.fixture
def golden(pytestconfig: pytest.Config) -> Callable[[Path, str], None]:
    """Compares a text with its golden file, or writes the file anew with `--regold`."""

    def check(file: Path, text: str) -> None:
        if pytestconfig.getoption("--regold"):
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_text(text, encoding="utf-8")
        assert file.exists(), f"no golden file {file.name}; --regold writes it"
        assert text == file.read_text(encoding="utf-8")

    return check
