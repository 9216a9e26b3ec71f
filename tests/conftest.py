"""What every room's tests share."""

import shutil
import socket
import subprocess
import time
from collections.abc import Callable, Iterator
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


MOSQUITTO = shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin:/usr/bin:/usr/local/bin")


class Mosquitto:
    """A real MQTT broker on a port of its own, that can be killed and started again."""

    def __init__(self, folder: Path, *lines: str) -> None:
        """`lines` of its configuration, beside the listener; nobody needs a password unless they say so."""
        folder.mkdir(parents=True, exist_ok=True)
        with socket.create_server(("127.0.0.1", 0)) as free:
            self.port = int(free.getsockname()[1])
        self.log = folder / "mosquitto.log"
        self._config = folder / "mosquitto.conf"
        told = ["user root", f"listener {self.port} 127.0.0.1", f"log_dest file {self.log}", "log_type all", *lines]
        if not any(line.startswith("allow_anonymous") for line in lines):
            told.append("allow_anonymous true")
        self._config.write_text("\n".join(told) + "\n", encoding="utf-8")
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def process(self) -> int:
        """Its process number."""
        assert self._process is not None
        return self._process.pid

    def start(self) -> None:
        """Start it and wait until it listens."""
        assert MOSQUITTO is not None
        self._process = subprocess.Popen([MOSQUITTO, "-c", str(self._config)], stderr=subprocess.DEVNULL)
        deadline = time.monotonic() + 30
        while time.monotonic() < deadline and self._process.poll() is None:
            try:
                socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
            except OSError:
                time.sleep(0.02)
            else:
                return
        raise RuntimeError(f"mosquitto does not listen:\n{self.log.read_text() if self.log.exists() else ''}")

    def kill(self) -> None:
        """kill -9: it forgets everything, and says good-bye to nobody."""
        if self._process is not None:
            self._process.kill()
            self._process.wait(30)
            self._process = None


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Callable[..., Mosquitto]]:
    """Starts brokers, each with lines of configuration of its own; all are gone after the test."""
    if MOSQUITTO is None:
        pytest.skip("mosquitto is not installed")
    started: list[Mosquitto] = []

    def start(*lines: str) -> Mosquitto:
        broker = Mosquitto(tmp_path / f"mosquitto-{len(started)}", *lines)
        started.append(broker)
        broker.start()
        return broker

    yield start
    for broker in started:
        broker.kill()
