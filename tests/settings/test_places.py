"""Where things are kept, and where a command looks for them."""

from pathlib import Path

import pytest

from watchdog.settings import load, places
from watchdog.settings.load import default_file
from watchdog.settings.model import Places
from watchdog.settings.places import Kept, of_caller, of_service

SYSTEMD = {
    "STATE_DIRECTORY": "/var/lib/emberward:/var/lib/more",
    "RUNTIME_DIRECTORY": "/run/emberward",
    "HOME": "/root",
}
BY_HAND = {"XDG_STATE_HOME": "/home/lead/.state", "XDG_RUNTIME_DIR": "/run/user/1000"}


def test_under_systemd_its_folders_are_used() -> None:
    kept = of_service(Places(), SYSTEMD)
    assert kept == Kept(Path("/var/lib/emberward"), Path("/run/emberward/control.sock"))
    assert kept.record == Path("/var/lib/emberward/incidents.db")
    assert kept.recordings == Path("/var/lib/emberward/recordings")


def test_by_hand_the_base_directories_are_used(monkeypatch: pytest.MonkeyPatch) -> None:
    assert of_service(Places(), BY_HAND) == Kept(
        Path("/home/lead/.state/emberward"), Path("/run/user/1000/emberward/control.sock")
    )
    monkeypatch.setenv("HOME", "/home/lead")
    assert of_service(Places(), {}) == Kept(
        Path("/home/lead/.local/state/emberward"), Path("/home/lead/.local/state/emberward/run/control.sock")
    )


def test_the_settings_win_over_both() -> None:
    told = Places(state=Path("/srv/a"), socket=Path("/srv/b.sock"))
    for environment in (SYSTEMD, BY_HAND, {}):
        assert of_service(told, environment) == Kept(Path("/srv/a"), Path("/srv/b.sock"))


def test_two_watches_with_a_state_folder_each_have_a_socket_each() -> None:
    """The second would take the socket of the first, and nobody could acknowledge there any more."""
    sockets = {of_service(Places(state=Path(folder)), BY_HAND).socket for folder in ("/srv/a", "/srv/b")}
    assert sockets == {Path("/srv/a/run/control.sock"), Path("/srv/b/run/control.sock")}
    assert of_service(Places(state=Path("/srv/a")), SYSTEMD).socket == Path("/run/emberward/control.sock")


def test_a_command_finds_the_systems_service_unless_its_account_runs_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    system = Kept(tmp_path / "lib", tmp_path / "run" / "control.sock")
    monkeypatch.setattr(places, "SYSTEM_STATE", system.state)
    monkeypatch.setattr(places, "SYSTEM_SOCKET", system.socket)
    environment = {"XDG_STATE_HOME": str(tmp_path / "own"), "XDG_RUNTIME_DIR": str(tmp_path / "ownrun")}
    own = of_service(Places(), environment)
    assert of_caller(Places(), environment) == own, "nothing is there: its own are named in the complaint"
    for file in (system.socket, system.record):
        file.parent.mkdir()
        file.touch()
    assert of_caller(Places(), environment) == system
    told = Places(state=tmp_path / "x", socket=tmp_path / "y")
    assert of_caller(told, environment) == Kept(tmp_path / "x", tmp_path / "y")
    for file in (own.socket, own.record):
        file.parent.mkdir(parents=True)
        file.touch()
    assert of_caller(Places(), environment) == own


def test_the_systems_file_is_read_before_the_users(tmp_path: Path) -> None:
    system, home = tmp_path / "etc" / "emberward.toml", tmp_path / "home"
    user = home / "emberward" / "emberward.toml"
    environment = {"XDG_CONFIG_HOME": str(home)}
    assert default_file(environment, system) is None
    user.parent.mkdir(parents=True)
    user.touch()
    assert default_file(environment, system) == user
    system.parent.mkdir()
    system.touch()
    assert default_file(environment, system) == system


def test_a_systems_file_behind_a_closed_door_counts_as_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """To pass it over would be to watch with other settings than those that somebody wrote."""

    def closed(file: Path) -> bool:
        raise PermissionError(13, "Permission denied", str(file))

    monkeypatch.setattr(Path, "is_file", closed)
    assert default_file({"XDG_CONFIG_HOME": str(tmp_path)}, tmp_path / "etc") == tmp_path / "etc"


def test_nothing_is_made_by_looking(tmp_path: Path) -> None:
    environment = {"XDG_STATE_HOME": str(tmp_path / "state"), "XDG_RUNTIME_DIR": str(tmp_path / "run")}
    of_caller(Places(), environment)
    of_service(Places(), environment)
    load(None)
    assert list(tmp_path.iterdir()) == []
