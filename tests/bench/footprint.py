"""Memory and processor share of the running `watch`, for 1, 10 and 50 machines in one process.

    python -m tests.bench footprint [--machines 1 10 50] [--sensors 0] [--seconds 60] [--warm-up 30] [--json]

The real service on real pseudo-terminals, with everything on: every detector, the record, a recording of each machine, people
and routes. Each machine is asked once a second and has a job under way; all are played by one other process, which is not
counted. Figures of the kernel:

    rss_mb, pss_mb        resident memory; pss counts pages shared with other processes in proportion
    peak_mb               the most that was ever resident, the start included
    cpu_%                 share of one core over the time measured, after the warm-up
    cpu_%_machine         that by the number of machines; `--machines 0` shows what the process takes by itself
    lines_s_machine       traffic in both directions: 2.5 at one query a second, in turn for heat and for progress
    longest_unread_s      by the service's own measure: no byte that had arrived waited longer (0.1 at the least)
    messages_s            over MQTT, in and out; `--sensors N` has a real broker carry N sensors' values, one a second each
    recorded_%            of the lines, what has reached the recordings (the last half second is on its way)
"""

import argparse
import os
import subprocess
import sys
import tempfile
import threading
import time
from contextlib import ExitStack
from pathlib import Path

import paho.mqtt.client as paho
from paho.mqtt.enums import CallbackAPIVersion

from tests.bench.figures import Row, show
from tests.bench.installation import Installation
from tests.conftest import Mosquitto

MEMORY, SHARE = 80, 0.5  # MB; % of a core a machine
TICKS = os.sysconf("SC_CLK_TCK")


def memory(process: int) -> Row:
    """MB, resident, in proportion, and the most that was ever resident."""
    found = {}
    for place in ("smaps_rollup", "status"):
        for line in Path(f"/proc/{process}/{place}").read_text().splitlines():
            name, _, rest = line.partition(":")
            if rest.endswith("kB"):
                found[name] = int(rest.split()[0]) * 1024 / 1e6
    return {"rss_mb": found["Rss"], "pss_mb": found["Pss"], "peak_mb": found["VmHWM"]}


def spent(process: int) -> float:
    """s of processor time, without the processes that send messages."""
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return sum(map(int, fields[11:13])) / TICKS


class Sensors:
    """A broker, and sensors that each say a value a second; entering starts both."""

    def __init__(self, folder: Path, count: int, machines: list[str]) -> None:
        self._broker = Mosquitto(folder / "broker")
        self._names = [f"air-{nth:03}" for nth in range(count)]
        self._machines = machines
        self._done = threading.Event()
        self._saying = threading.Thread(target=self._say)

    @property
    def settings(self) -> str:
        """For the service."""
        tables = [f'[mqtt]\nhost = "127.0.0.1"\nport = {self._broker.port}\nbase = "emberward/bench"']
        for nth, name in enumerate(self._names):
            machine = self._machines[nth % len(self._machines)]
            tables.append(
                f'[sensors.{name}]\nmachine = "{machine}"\nkind = "room-temperature"\ntopic = "{name}"\npointer = "/t"'
            )
        return "\n".join(tables)

    def __enter__(self) -> "Sensors":
        self._broker.start()
        self._saying.start()
        return self

    def __exit__(self, *error: object) -> None:
        self._done.set()
        self._saying.join()
        self._broker.kill()

    def _say(self) -> None:
        client = paho.Client(CallbackAPIVersion.VERSION2)
        client.connect("127.0.0.1", self._broker.port)
        client.loop_start()
        second = 0
        while not self._done.wait(1.0):
            second += 1
            for nth, name in enumerate(self._names):
                client.publish(name, f'{{"t": {20 + (nth + second) % 10 / 10}}}')
        client.disconnect()
        client.loop_stop()


def measured(count: int, seconds: float, warm_up: float, sensors: int = 0) -> Row:
    """One row of the table."""
    with ExitStack() as leaving:
        folder = Path(leaving.enter_context(tempfile.TemporaryDirectory()))
        names = [f"m-{nth:02}" for nth in range(1, count + 1)]
        if names:
            command = [sys.executable, "-m", "tests.bench.controllers", str(folder), str(count)]
            machines = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
            leaving.enter_context(machines)  # ends with its standard input
            assert machines.stdout is not None
            machines.stdout.readline()
        # nobody listens at the route: no message is due, and nobody should be told of a bench
        extra = ""
        if sensors and names:
            extra = leaving.enter_context(Sensors(folder, sensors, names)).settings
        house = leaving.enter_context(Installation(folder, names, "json://127.0.0.1:9/", recording=True, extra=extra))
        time.sleep(warm_up)
        messages = _messages(house)
        before, used, began = house.lines(), spent(house.process), time.monotonic()
        time.sleep(seconds)
        span = time.monotonic() - began
        used = spent(house.process) - used
        lines = house.lines() - before
        messages = _messages(house) - messages
        held = memory(house.process)
        status = house.status()
    heard = sum(machine["lines"] for machine in status["machines"])
    recorded = sum(machine.get("recorded", 0) for machine in status["machines"])
    return {
        "machines": count,
        **held,
        "cpu_%": 100 * used / span,
        "cpu_%_machine": 100 * used / span / count if count else 0.0,
        "lines_s_machine": lines / span / count if count else 0.0,
        "sensors": sensors,
        "messages_s": messages / span,
        "longest_unread_s": max((machine["longest_unread_s"] for machine in status["machines"]), default=0.0),
        "recorded_%": 100 * recorded / heard if heard else 0.0,
        "alarms": sum(len(machine["alarms"]) for machine in status["machines"]),
    }


def _messages(house: Installation) -> int:
    """Over MQTT so far."""
    told = house.status()["watch"].get("mqtt") or {}
    return int(told.get("said", 0)) + int(told.get("heard", 0))


def main(words: list[str]) -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.bench footprint", description=__doc__.split("\n")[0])
    parser.add_argument("--machines", type=int, nargs="+", default=[1, 10, 50], help="how many (default 1 10 50)")
    parser.add_argument("--sensors", type=int, default=0, help="beside them all, by MQTT (default 0)")
    parser.add_argument("--seconds", type=float, default=60.0, help="measured for so long (default 60)")
    parser.add_argument("--warm-up", type=float, default=30.0, help="s before that (default 30)")
    parser.add_argument("--json", action="store_true")
    asked = parser.parse_args(words)
    rows = [measured(count, asked.seconds, asked.warm_up, asked.sensors) for count in asked.machines]
    goals = [f"rss_mb and peak_mb at most {MEMORY}", f"cpu_%_machine at most {SHARE} at one query a second"]
    show("footprint", rows, goals, as_json=asked.json)
