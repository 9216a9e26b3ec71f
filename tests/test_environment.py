"""What is installed beside us, and what the project's own files promise."""

import re
from collections.abc import Iterator
from importlib import metadata
from pathlib import Path

import watchdog

ROOT = Path(watchdog.__file__).parents[1]


def normal(name: str) -> str:
    """A distribution's name in its normal form (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def needed(name: str, seen: set[str]) -> Iterator[str]:
    """Every distribution that `name` pulls in, extras aside, as far as it is installed."""
    for line in metadata.requires(name) or ():
        if "extra ==" in line:
            continue
        other = normal(re.split(r"[\s<>=!~;\[(]", line, maxsplit=1)[0])
        if other not in seen:
            seen.add(other)
            yield other
            try:
                yield from needed(other, seen)
            except metadata.PackageNotFoundError:  # for another platform or Python
                continue


def test_the_file_watching_library_of_the_same_import_name_is_not_pulled_in() -> None:
    """It would lie in the same folder, and `import watchdog` would find one or the other by chance."""
    pulled = set(needed("emberward", set()))
    assert {"pyserial", "apprise", "aiomqtt", "pydantic-settings", "structlog"} <= pulled
    assert "watchdog" not in pulled
    installed = {normal(found.metadata["Name"]) for found in metadata.distributions()}
    assert "emberward" in installed
    assert "watchdog" not in installed


def test_every_version_in_the_constraints_is_pinned_and_names_no_address() -> None:
    lines = (ROOT / "config/constraints.txt").read_text().splitlines()
    pins = [line for line in lines if line and not line.startswith("#")]
    assert len(pins) > 20
    assert all(re.fullmatch(r"[A-Za-z0-9_.-]+==[A-Za-z0-9_.+]+", pin) for pin in pins)


def test_the_build_machine_runs_the_readme_s_second_command_word_for_word() -> None:
    commands = re.findall(r"(?m)^    (.+)$", (ROOT / "README.md").read_text())
    assert commands[0].endswith("emberward demo")
    assert commands[1] == "bash tests/run"
    assert commands[1] in (ROOT / ".ci/run").read_text().splitlines()


def test_the_version_is_told_the_same_everywhere() -> None:
    assert metadata.version("emberward") == watchdog.__version__
    assert f"### {watchdog.__version__}" in (ROOT / "README.md").read_text()


def test_nothing_but_the_agreed_lies_at_the_top() -> None:
    kept = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "watchdog", "config", "systemd", "tests"}
    made = {"build", "dist", "emberward.egg-info", "htmlcov"}
    top = {entry.name for entry in ROOT.iterdir() if not entry.name.startswith(".")}
    assert top - made == kept
