"""What is said when no service runs: that nobody watches, and how to start it."""

import json
import socket
import subprocess
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from watchdog.cli.common import Stop, ask_service
from watchdog.settings.places import Kept

Command = Callable[..., subprocess.CompletedProcess[str]]
Config = Callable[[str], Path]


@pytest.mark.parametrize(
    "words",
    [
        ("status",),
        ("status", "--json"),
        ("acknowledge", "doorway-1/hot-idle"),
        ("shelve", "doorway-1/silent", "--for", "2 h"),
        ("unshelve", "silent"),
        ("expect", "38 min"),
        ("expect", "38"),
    ],
)
def test_without_a_service_it_is_said_that_none_answers(
    words: tuple[str, ...], emberward: Command, config: Config, tmp_path: Path
) -> None:
    """A blank answer would be read as 'all well'."""
    done = emberward(*words, "--config", config(""))
    assert (done.returncode, done.stdout) == (1, "")
    assert f"no service answers at {tmp_path}/control.sock: No such file or directory" in done.stderr
    assert "Start it with: emberward watch" in done.stderr
    assert "Traceback" not in done.stderr


def test_status_says_that_no_alert_will_come(emberward: Command, config: Config) -> None:
    done = emberward("status", "--config", config(""))
    assert "Nobody watches: no alert will come." in done.stderr


def test_a_socket_that_was_left_behind_is_no_service(emberward: Command, config: Config, tmp_path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as left:
        left.bind(str(tmp_path / "control.sock"))
    done = emberward("status", "--config", config(""))
    assert done.returncode == 1
    assert "Connection refused" in done.stderr


@pytest.mark.parametrize("command", ["incidents", "show"])
def test_without_a_record_it_is_said_where_one_was_looked_for(
    command: str, emberward: Command, config: Config, tmp_path: Path
) -> None:
    done = emberward(command, *(["1"] if command == "show" else []), "--config", config(""))
    assert (done.returncode, done.stdout) == (1, "")
    assert f"{tmp_path}/state/incidents.db: there is no record yet." in done.stderr


def test_an_incidents_number_without_a_record_is_told(emberward: Command, config: Config) -> None:
    done = emberward("acknowledge", "7", "--config", config(""))
    assert done.returncode == 1
    assert "there is no record yet" in done.stderr


@contextmanager
def answering(place: Path, answer: dict[str, Any]) -> Iterator[list[dict[str, Any]]]:
    """A service that takes one request and gives `answer`; yields what was asked."""
    asked: list[dict[str, Any]] = []
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(place))
        server.listen()

        def serve() -> None:
            wire, _ = server.accept()
            with wire, wire.makefile("rwb") as lines:
                asked.append(json.loads(lines.readline()))
                lines.write(json.dumps(answer).encode() + b"\n")

        one = threading.Thread(target=serve, daemon=True)
        one.start()
        yield asked
        one.join(10)


def test_an_alarm_is_acknowledged_beside_a_mistake_in_the_settings(
    emberward: Command, config: Config, tmp_path: Path
) -> None:
    """Somebody edits the file in a lesson; the service that still runs by the old one must be heard and answered."""
    file = config('machins = 3\n[routes.push]\ncredential = "only-systemd-has-it"\n[limits.hot-idle]\ndoze = 3\n')
    done = {"ok": True, "done": [{"id": "doorway-1/hot-idle", "changed": True}]}
    with answering(tmp_path / "control.sock", done) as asked:
        told = emberward("acknowledge", "hot-idle", "--by", "workshop lead", "--config", file)
    assert (told.returncode, told.stdout, told.stderr) == (0, "doorway-1/hot-idle: acknowledged\n", "")
    assert asked == [{"do": "acknowledge", "alarm": "hot-idle", "by": "workshop lead"}]


def test_an_alarm_that_does_not_stand_is_told_with_status_1(emberward: Command, config: Config, tmp_path: Path) -> None:
    done = {"ok": True, "done": [{"id": "doorway-1/hot-idle", "changed": False}]}
    with answering(tmp_path / "control.sock", done):
        told = emberward("acknowledge", "hot-idle", "--config", config(""))
    assert (told.returncode, told.stderr) == (1, "")
    assert "does not stand, or was acknowledged already" in told.stdout


def test_a_refusal_of_the_service_is_passed_on(emberward: Command, config: Config, tmp_path: Path) -> None:
    with answering(tmp_path / "control.sock", {"ok": False, "error": "no alarm 'x' stands."}):
        told = emberward("acknowledge", "x", "--config", config(""))
    assert (told.returncode, told.stdout, told.stderr) == (1, "", "no alarm 'x' stands.\n")


def test_a_duration_goes_to_the_service_in_seconds(emberward: Command, config: Config, tmp_path: Path) -> None:
    with answering(tmp_path / "control.sock", {"ok": True, "machine": "doorway-1"}) as asked:
        told = emberward("expect", "1 h 30 min", "--config", config(""))
    assert (told.returncode, told.stdout) == (0, "doorway-1: the present job is expected to take 1 h 30 min\n")
    assert asked == [{"do": "expect", "seconds": 5400.0}]


@pytest.mark.parametrize("words", [("status",), ("acknowledge", "hot-idle")])
def test_a_service_that_hangs_up_does_not_pass_for_one_that_is_well(
    words: tuple[str, ...], emberward: Command, config: Config, tmp_path: Path
) -> None:
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(tmp_path / "control.sock"))
        server.listen()
        hang_up = threading.Thread(target=lambda: server.accept()[0].close(), daemon=True)
        hang_up.start()
        told = emberward(*words, "--config", config(""))
        hang_up.join(10)
    assert (told.returncode, told.stdout) == (1, "")
    assert "without an answer" in told.stderr or "gave no answer" in told.stderr
    assert "Traceback" not in told.stderr


def test_a_service_that_does_not_answer_in_time_is_told(tmp_path: Path) -> None:
    """A hung service looks like a running one: whoever asks must hear that alerts may not come."""
    place = tmp_path / "control.sock"
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(str(place))
        server.listen()
        with pytest.raises(Stop, match=r"gave no answer \(timed out\). It may hang: alerts may not come") as told:
            ask_service(Kept(tmp_path, place), {"do": "status"}, limit=0.2)
    assert told.value.status == 1
