"""`watch`: the check of the settings, and starting with too little."""

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

Command = Callable[..., subprocess.CompletedProcess[str]]
Config = Callable[[str], Path]
EXAMPLE = Path(__file__).parents[2] / "config" / "emberward.toml"
GOOD = """
[machines.doorway-1]
port = "/dev/serial/by-id/usb-EXAMPLE-if00-port0"
[routes.push]
url = "json://127.0.0.1:9/t0ken"
[people.workshop-lead]
routes = ["push"]
"""


def test_good_settings_are_called_good(emberward: Command, config: Config) -> None:
    done = emberward("watch", "--check", "--config", config(GOOD))
    assert (done.returncode, done.stdout, done.stderr) == (0, "configuration good\n", "")


def test_the_example_is_good_and_says_what_is_still_missing(emberward: Command) -> None:
    done = emberward("watch", "--check", "--config", EXAMPLE)
    assert (done.returncode, done.stderr) == (0, "")
    first, *notes = done.stdout.splitlines()
    assert first == "configuration good"
    assert [note for note in notes if "still an example's address" in note]
    assert all(note.startswith("note: ") and note.endswith(".") for note in notes)


def test_no_settings_are_good_settings_with_notes(emberward: Command) -> None:
    done = emberward("watch", "--check")
    assert done.returncode == 0
    assert done.stdout.splitlines() == [
        "configuration good",
        "note: no machine is named; a single serial printer is found by its stable name.",
        "note: nobody is named, so nobody will be told.",
    ]


def test_every_mistake_is_told_and_nothing_is_started(emberward: Command, config: Config, tmp_path: Path) -> None:
    file = config(GOOD + 'told = ["urgnt"]\nshow_file = 1\n[limits.hot-idle]\ndoze = 3\n[alarms.silnt]\n')
    for words in (("watch", "--check"), ("watch",)):
        done = emberward(*words, "--config", file)
        assert (done.returncode, done.stdout) == (2, "")
        assert done.stderr.splitlines() == [
            f"{file}: people.workshop-lead.told.0: 'urgnt' is not possible here. Did you mean urgent? "
            "Valid here: urgent, high, low.",
            f"{file}: people.workshop-lead.show_file: no such setting. Did you mean show_files?",
            f"{file}: limits.hot-idle.doze: no such setting. Did you mean dose?",
            f"{file}: alarms.silnt: 'silnt' is no alarm. Did you mean silent?",
            "4 problems; nothing was started.",
        ]
    assert not (tmp_path / "state").exists()


def test_the_environment_is_checked_with_the_file(emberward: Command, config: Config) -> None:
    file = config(GOOD)
    assert emberward("watch", "--check", "--config", file, EMBERWARD_DELIVERY__TIME_LIMIT="20").returncode == 0
    done = emberward("watch", "--check", "--config", file, EMBERWARD_DELIVERY__TIME_LIMIT="soon", EMBERWARD_ZOEN="x")
    assert done.returncode == 2
    assert done.stderr.splitlines() == [
        "environment: EMBERWARD_ZOEN: no such setting. Did you mean EMBERWARD_ZONE?",
        "environment: EMBERWARD_DELIVERY__TIME_LIMIT: 'soon' is no duration. "
        'Write it as "90 s", "5 min" or "1 h 30 min".',
        "2 problems; nothing was started.",
    ]


def test_the_users_own_file_is_found(emberward: Command, surroundings: dict[str, str]) -> None:
    if Path("/etc/emberward").exists():
        pytest.skip("this computer has settings of its own")
    file = Path(surroundings["HOME"]) / ".config" / "emberward" / "emberward.toml"
    file.parent.mkdir(parents=True)
    file.write_text("machins = 3\n")
    done = emberward("watch", "--check")
    assert done.returncode == 2
    assert done.stderr.startswith(f"{file}: machins: no such setting. Did you mean machines?")


def test_a_credential_that_systemd_keeps_is_noted_by_the_check_and_missed_by_the_watch(
    emberward: Command, config: Config, tmp_path: Path
) -> None:
    file = config(GOOD.replace('url = "json://127.0.0.1:9/t0ken"', 'credential = "push"'))
    done = emberward("watch", "--check", "--config", file)
    assert (done.returncode, done.stdout.count("note: routes.push: not looked at")) == (0, 1)
    done = emberward("watch", "--config", file)
    assert done.returncode == 2
    assert "routes.push.credential" in done.stderr
    handed = tmp_path / "credentials"
    handed.mkdir()
    (handed / "push").write_text("json://127.0.0.1:9/t0ken\n")
    done = emberward("watch", "--check", "--config", file, CREDENTIALS_DIRECTORY=str(handed))
    assert (done.returncode, done.stdout) == (0, "configuration good\n")


def test_without_settings_and_without_a_printer_it_says_how_to_name_one_and_what_to_see_instead(
    emberward: Command,
) -> None:
    """The first thing that a school sees which has not plugged in its printer yet."""
    if any(Path("/dev/serial/by-id").glob("*")):
        pytest.skip("a serial device is plugged into this computer, and would be watched")
    done = emberward("watch")
    assert (done.returncode, done.stdout) == (1, "")
    for words in ('port = "/dev/serial/by-id/', "switched on", "emberward demo"):
        assert words in done.stderr
    assert "Traceback" not in done.stderr


def test_a_folder_that_cannot_be_made_is_named(emberward: Command, tmp_path: Path) -> None:
    file = tmp_path / "emberward.toml"
    (tmp_path / "taken").write_text("a file, no folder")
    file.write_text(f'places.state = "{tmp_path}/taken"\n' + GOOD)
    done = emberward("watch", "--config", file)
    assert done.returncode == 1
    assert f"{tmp_path}/taken" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_demonstration_minds_the_environment_too(emberward: Command) -> None:
    done = emberward("demo", EMBERWARD_ZONE="Lisbon")
    assert (done.returncode, done.stdout) == (2, "")
    assert "environment: EMBERWARD_ZONE: 'Lisbon' is no time zone known here." in done.stderr


def test_the_demonstration_takes_no_schools_record_for_its_own(emberward: Command, tmp_path: Path) -> None:
    """It begins anew each time; in the wrong folder that would wipe out what a term has recorded."""
    (tmp_path / "state" / "recordings").mkdir(parents=True)
    kept = [tmp_path / "state" / "incidents.db", tmp_path / "state" / "recordings" / "doorway-1.traffic"]
    for file in kept:
        file.write_bytes(b"of a school")
    done = emberward("demo", "--keep", tmp_path / "state")
    assert done.returncode == 1
    assert "no demonstration's. Name another folder" in done.stderr
    assert [file.read_bytes() for file in kept] == [b"of a school"] * 2
