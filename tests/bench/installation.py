"""The real service in a folder of its own, on ports that a bench has made."""

import subprocess
import sys
import time
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Any

from watchdog.service.control import NotRunning, ask

PATIENCE = 60.0  # s for the service to come up


class Installation:
    """A running `watch` in real time; leaving ends it in good order."""

    def __init__(
        self, folder: Path, machines: Sequence[str], route: str, *, recording: bool = False, extra: str = ""
    ) -> None:
        """Machine NAME lies at `folder`/NAME and is asked once a second; one person, told along `route`."""
        self.folder = folder
        self._socket = folder / "control.sock"
        parts = [f'places.state = "{folder}/state"\nplaces.socket = "{self._socket}"']
        if machines:
            parts += [
                f'[machines.{name}]\nport = "{folder}/{name}"\npoll = 1\nrecord = {str(recording).lower()}'
                for name in machines
            ]
        else:  # a log that nobody writes: the service alone
            (folder / "none").touch()
            parts.append(f'[machines.none]\nsource = "log"\nlog = "{folder}/none"')
        parts.append(f'[routes.push]\nurl = "{route}"\n[people.workshop-lead]\nroutes = ["push"]\n{extra}')
        self._config = folder / "emberward.toml"
        self._config.touch(0o600)
        self._config.write_text("\n".join(parts), encoding="utf-8")
        self._machines = machines

    def __enter__(self) -> "Installation":
        self.log = (self.folder / "service.log").open("w")
        command = [sys.executable, "-m", "watchdog", "watch", "--config", str(self._config)]
        self._service = subprocess.Popen(command, stdout=self.log, stderr=self.log)
        deadline = time.monotonic() + PATIENCE
        while not self._there():
            if time.monotonic() > deadline or self._service.poll() is not None:
                words = (self.folder / "service.log").read_text()
                self.__exit__(None, None, None)
                raise RuntimeError(f"the service did not come up:\n{words}")
            time.sleep(0.1)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._service.terminate()
        self._service.wait(30)
        self.log.close()

    @property
    def process(self) -> int:
        """Its process number."""
        return self._service.pid

    def status(self) -> dict[str, Any]:
        """What it says of itself."""
        return ask(self._socket, {"do": "status"})

    def acknowledge(self, alarm: str) -> None:
        """Take `alarm` (MACHINE/NAME) on, so that no reminder comes."""
        ask(self._socket, {"do": "acknowledge", "alarm": alarm, "by": "bench"})

    def lines(self) -> int:
        """Lines of traffic that went through all its machines so far."""
        return sum(int(machine["lines"]) for machine in self.status()["machines"])

    def _there(self) -> bool:
        with suppress(NotRunning, OSError):
            return all(machine["link"] == "available" for machine in self.status()["machines"] if self._machines)
        return False
