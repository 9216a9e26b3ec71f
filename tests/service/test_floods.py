"""One machine floods, another stands hot and idle: the real service is fair, and its queue has an end."""

import os
import pty
import socket
import termios
import threading
import time
import tty
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from prometheus_client.parser import text_string_to_metric_families

from watchdog.service.watching import LONGEST_QUEUE

if TYPE_CHECKING:
    from tests.service.conftest import House

Wait = Callable[..., Any]

LINE = b"ok T:24.1 /0.0 B:23.0 /0.0 @:0 B@:0\n"
AT_LEAST = 10_000  # lines a second

pytestmark = pytest.mark.timeout(240)


class Flood:
    """A machine on a pseudo-terminal that says far more than anybody asks for."""

    def __init__(self, link: Path) -> None:
        self.said = 0
        self._master, slave = pty.openpty()
        tty.setraw(slave, termios.TCSANOW)
        os.set_blocking(self._master, False)
        link.symlink_to(os.ttyname(slave))
        os.close(slave)  # a port that another program has open is left alone
        self._goes_on = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)

    def start(self) -> None:
        self._goes_on.set()
        self._thread.start()

    def stop(self) -> None:
        self._goes_on.clear()
        if self._thread.is_alive():
            self._thread.join(30)

    def close(self) -> None:
        self.stop()
        os.close(self._master)

    def _run(self) -> None:
        """As fast as the wire takes it, which is far beyond what a wire can really carry."""
        many, written = LINE * 100, 0
        while self._goes_on.is_set():
            try:
                written += os.write(self._master, many[written % len(LINE) :])
            except BlockingIOError:
                time.sleep(0.0005)
            self.said = written // len(LINE)


@pytest.fixture
def flood(tmp_path: Path) -> Iterator[Flood]:
    made = Flood(tmp_path / "flooding")
    yield made
    made.close()


def raised(house: "House", name: str) -> dict[str, Any] | None:
    status = house.status() or {"machines": []}
    for machine in status["machines"]:
        if machine["machine"] == name:
            return next((alarm for alarm in machine["alarms"] if alarm["alarm"] == "hot-idle"), None)
    return None


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as free:
        return int(free.getsockname()[1])


def numbers(port: int) -> dict[tuple[str, str], float]:
    """What the service tells as its numbers of each machine; nothing while it is not open yet."""
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics", timeout=20) as answer:
            text = answer.read().decode()
    except OSError:
        return {}
    return {
        (sample.name, sample.labels["machine"]): sample.value
        for family in text_string_to_metric_families(text)
        for sample in family.samples
        if set(sample.labels) == {"machine"}
    }


def of(house: "House", name: str) -> dict[str, Any]:
    status = house.status()
    assert status is not None
    return next(machine for machine in status["machines"] if machine["machine"] == name)


def test_a_flooding_machine_delays_no_alarm_of_another_and_what_is_let_go_is_counted(
    house: "House", wait: Wait, flood: Flood, tmp_path: Path
) -> None:
    """A controller that has gone mad on one bench must not cost the nozzle of the other."""
    house.rate = 30.0
    house.settle(f'[machines.loft-1]\nport = "{tmp_path}/flooding"\n[metrics]\nport = {(port := free_port())}\n')
    house.plug_in()
    house.watch()
    wait("the other machine", lambda: of(house, "loft-1")["lines"] is not None)
    house.do("load")
    wait("heat", lambda: of(house, "doorway-1")["hotend"] == "hot")
    flood.start()
    began, deepest, alarm = time.monotonic(), 0.0, None
    while alarm is None:
        assert time.monotonic() - began < 120
        alarm = raised(house, "doorway-1")
        told = numbers(port)
        deepest = max(deepest, told.get(("emberward_lines_waiting", "loft-1"), 0))

    flood.stop()
    assert flood.said > AT_LEAST * (time.monotonic() - began), "the test's own flood is none"
    # due at 10 equivalent minutes, told within a minute of the told clock (two real seconds) of being due
    assert 10.0 <= alarm["evidence"]["dose_min"] <= 11.5
    assert alarm["for_s"] <= 60
    wait("the message", lambda: house.phone.about("Cool the nozzle"))

    assert deepest <= LONGEST_QUEUE + 100  # ticks and requests are never let go
    wait("an empty queue", lambda: numbers(port).get(("emberward_lines_waiting", "loft-1"), 1.0) <= 1)
    flooding, other = of(house, "loft-1"), of(house, "doorway-1")
    assert flooding["dropped"] > 0
    assert other["dropped"] == 0
    assert numbers(port)["emberward_lines_dropped_total", "loft-1"] == flooding["dropped"]
    assert f"{flooding['dropped']} lines let go" in house.command("status").stdout
    # nothing is lost unseen; what the terminal still held when it was closed, and some remarks, are all that differs
    assert abs(flooding["lines"] + flooding["dropped"] - flood.said) < 1000
    assert house.stop() == 0
