"""What the service manager hears, on a real datagram socket."""

import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from watchdog.host.notify import ServiceManager


class Ear:
    """The manager's end of the wire."""

    def __init__(self, address: str) -> None:
        self._wire = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._wire.bind(address)
        self._wire.settimeout(5)

    def heard(self) -> list[str]:
        return self._wire.recv(4096).decode().split("\n")

    def silent(self) -> bool:
        self._wire.setblocking(False)
        try:
            self._wire.recv(4096)
        except BlockingIOError:
            return True
        return False

    def close(self) -> None:
        self._wire.close()


@pytest.fixture(params=["path", "abstract"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[str, str]:
    """The name as the variable gives it, and the address that it means."""
    if request.param == "path":
        name = str(tmp_path / "notify")
        return name, name
    name = f"emberward-test-{os.getpid()}-{tmp_path.name}"
    return f"@{name}", f"\0{name}"


@pytest.fixture
def ear(place: tuple[str, str]) -> Iterator[Ear]:
    ear = Ear(place[1])
    yield ear
    ear.close()


@pytest.fixture
def manager(place: tuple[str, str], ear: Ear) -> ServiceManager:
    return ServiceManager({"NOTIFY_SOCKET": place[0]})


def test_each_word_is_one_datagram_of_assignments(manager: ServiceManager, ear: Ear) -> None:
    assert manager.ready("watching doorway-1")
    assert ear.heard() == ["READY=1", "STATUS=watching doorway-1"]
    assert manager.alive()
    assert ear.heard() == ["WATCHDOG=1"]
    assert manager.status("1 alarm stands")
    assert ear.heard() == ["STATUS=1 alarm stands"]
    assert manager.stopping()
    assert ear.heard() == ["STOPPING=1"]
    assert ear.silent()


def test_a_status_cannot_smuggle_in_another_assignment(manager: ServiceManager, ear: Ear) -> None:
    manager.status("nozzle\nSTOPPING=1\r\n 205 °C \udcff")
    assert ear.heard() == ["STATUS=nozzle STOPPING=1 205 °C ?"]


def test_an_empty_status_says_nothing(manager: ServiceManager, ear: Ear) -> None:
    assert not manager.status("  \n")
    assert ear.silent()


@pytest.mark.parametrize("variable", [{}, {"NOTIFY_SOCKET": ""}], ids=["unset", "empty"])
def test_without_a_service_manager_nothing_is_sent(variable: dict[str, str]) -> None:
    manager = ServiceManager(variable)
    assert not any((manager.ready(), manager.alive(), manager.status("x"), manager.stopping()))


@pytest.mark.parametrize(
    "name", ["/nowhere/at/all", "@nobody-listens-here", "/" + "x" * 200, "/with\0nul", "vsock:2:1234", "/\ud800"]
)
def test_a_manager_that_cannot_be_reached_never_stops_the_watch(name: str) -> None:
    assert not ServiceManager({"NOTIFY_SOCKET": name}).ready()


def test_a_manager_that_does_not_listen_never_makes_the_watch_wait(manager: ServiceManager, ear: Ear) -> None:
    """With its queue full the sign of life is lost, and the machine is still followed."""
    sent = 0
    while manager.alive():
        sent += 1
        assert sent < 100_000
    assert sent > 0
    assert ear.heard() == ["WATCHDOG=1"]
    assert manager.alive()


@pytest.mark.parametrize(
    ("variables", "pause"),
    [
        ({"WATCHDOG_USEC": "30000000"}, 15.0),
        ({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": str(os.getpid())}, 15.0),
        ({"WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "1"}, None),
        ({"WATCHDOG_USEC": "0"}, None),
        ({"WATCHDOG_USEC": "-5"}, None),
        ({"WATCHDOG_USEC": "soon"}, None),
        ({"WATCHDOG_USEC": ""}, None),
        ({}, None),
    ],
)
def test_the_sign_of_life_is_due_at_half_of_what_is_allowed(variables: dict[str, str], pause: float | None) -> None:
    assert ServiceManager(variables).watchdog_pause == pause


def test_the_process_environment_is_what_counts_by_default(
    monkeypatch: pytest.MonkeyPatch, place: tuple[str, str], ear: Ear
) -> None:
    monkeypatch.setenv("NOTIFY_SOCKET", place[0])
    assert ServiceManager().alive()
    assert ear.heard() == ["WATCHDOG=1"]
