"""`test-alert`: a marked message along every route, told as far as it can be known."""

import json
import subprocess
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import pytest

Command = Callable[..., subprocess.CompletedProcess[str]]
Config = Callable[[str], Path]


@dataclass
class Phone:
    """A push service on this computer: takes what is posted to /good, and refuses what is posted to /gone."""

    port: int
    messages: list[dict[str, Any]] = field(default_factory=list)

    def url(self, place: str) -> str:
        return f"json://127.0.0.1:{self.port}/{place}/t0ken-s3cret"


@pytest.fixture
def phone() -> Iterator[Phone]:
    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            if self.path.startswith("/good"):
                taken.messages.append(json.loads(body))
            self.send_response(200 if self.path.startswith("/good") else 404)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, format: str, *args: Any) -> None:
            pass

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    taken = Phone(server.server_address[1])
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield taken
    server.shutdown()
    server.server_close()


def settings(phone: Phone, place: str = "good") -> str:
    return f"""
zone = "Europe/Lisbon"
[routes.push]
url = "{phone.url("good")}"
[routes.desk]
url = "{phone.url(place)}"
[people.workshop-lead]
routes = ["push"]
[people.duty-warden]
routes = ["desk"]
"""


def test_a_marked_message_goes_along_every_route(emberward: Command, config: Config, phone: Phone) -> None:
    done = emberward("test-alert", "--config", config(settings(phone)))
    assert (done.returncode, done.stderr) == (0, "")
    told = [line for line in done.stdout.splitlines() if line.startswith("taken")]
    assert [line.split(":")[0] for line in told] == ["taken    workshop-lead by push", "taken    duty-warden by desk"]
    assert "Ask each person whether it arrived" in done.stdout
    assert len(phone.messages) == 2
    for message in phone.messages:
        assert "TEST" in message["title"]
        assert "Do nothing: this is a test" in message["message"]
    assert "s3cret" not in done.stdout


def test_one_person_alone_can_be_asked(emberward: Command, config: Config, phone: Phone) -> None:
    done = emberward("test-alert", "duty-warden", "--json", "--config", config(settings(phone)))
    assert done.returncode == 0
    (row,) = [json.loads(line) for line in done.stdout.splitlines()]
    assert (row["person"], row["route"], row["outcome"]) == ("duty-warden", "desk", "delivered")
    assert len(phone.messages) == 1


def test_a_route_that_does_not_work_is_told_with_status_1(emberward: Command, config: Config, phone: Phone) -> None:
    """Better before the term than at the first fire of a nozzle."""
    done = emberward("test-alert", "--json", "--config", config(settings(phone, "gone")))
    assert (done.returncode, done.stderr) == (1, "")
    good, gone = [json.loads(line) for line in done.stdout.splitlines()]
    assert (good["person"], good["outcome"]) == ("workshop-lead", "delivered")
    assert gone["person"] == "duty-warden"
    assert gone["outcome"] in {"failed", "refused"}
    assert gone["words"]
    assert "s3cret" not in done.stdout
    words = emberward("test-alert", "duty-warden", "--config", config(settings(phone, "gone"))).stdout
    assert "duty-warden by desk: " in words
    assert "REFUSED" in words or "FAILED" in words


def test_an_unknown_person_is_told_with_those_who_are_known(emberward: Command, config: Config, phone: Phone) -> None:
    done = emberward("test-alert", "workshop-led", "--config", config(settings(phone)))
    assert (done.returncode, done.stdout) == (2, "")
    assert "workshop-led: no such person. Named: workshop-lead, duty-warden." in done.stderr
    assert phone.messages == []


def test_nobody_to_tell_is_told(emberward: Command, config: Config) -> None:
    done = emberward("test-alert", "--config", config(""))
    assert (done.returncode, done.stdout) == (2, "")
    assert "nobody is named in the settings" in done.stderr


def test_a_mistake_in_the_settings_sends_nothing(emberward: Command, config: Config, phone: Phone) -> None:
    done = emberward("test-alert", "--config", config(settings(phone) + 'told = ["urgnt"]\n'))
    assert (done.returncode, done.stdout) == (2, "")
    assert "Did you mean urgent?" in done.stderr
    assert phone.messages == []
