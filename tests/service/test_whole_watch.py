"""The real service process, from a cause at the machine to a message on a phone and a row in the log."""

import json
import socket
import subprocess
import sys
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from tests.service.conftest import House

Wait = Callable[..., Any]

pytestmark = pytest.mark.timeout(240)


def test_a_nozzle_forgotten_hot_is_told_repeated_and_quiet_once_acknowledged(house: "House", wait: Wait) -> None:
    """Both people hear of it, hear of it again while nobody answers, and are left alone once somebody has."""
    house.plug_in()
    house.watch()
    house.do("load")
    wait("the push message", lambda: house.phone.about("Cool the nozzle"))
    mail = house.mailbox.mails.get(timeout=30)
    assert "Cool the nozzle" in mail
    assert "emberward acknowledge doorway-1/hot-idle" in mail
    wait("a reminder", lambda: len(house.phone.about("Cool the nozzle")) >= 2)

    done = house.command("acknowledge", "doorway-1/hot-idle", "--by", "workshop lead")
    assert done.returncode == 0, done.stderr
    assert house.alarms()["hot-idle"]["acknowledged_by"] == "workshop lead"
    again = house.command("acknowledge", "doorway-1/hot-idle")
    assert again.returncode == 1
    quiet = len(house.phone.messages)
    beyond = house.status()
    assert beyond is not None
    running = beyond["running_for_s"]
    wait("ten more minutes", lambda: (house.status() or {"running_for_s": 0})["running_for_s"] > running + 900)
    assert len(house.phone.messages) == quiet

    house.do("cool")
    wait("the alarm to end", lambda: "hot-idle" not in house.alarms())
    wait("one all-clear", lambda: len(house.phone.messages) > quiet)
    assert len(house.phone.messages) == quiet + 1
    assert "over" in house.phone.messages[-1]["message"].lower()

    shown = house.command("show", "1", "--json")
    incident = json.loads(shown.stdout)
    steps = [step["transition"] for step in incident["alarms"][0]["steps"]]
    assert steps == ["raised", "acknowledged", "returned", "cleared"]
    assert {message["person"] for message in incident["messages"]} == {"workshop-lead", "duty-warden"}
    assert all(message["delivered"] for message in incident["messages"])
    assert house.stop() == 0


def test_a_job_that_stands_still_is_told_and_its_end_at_the_machine_ends_the_alarm(house: "House", wait: Wait) -> None:
    """Five minutes without a byte, the nozzle in the part."""
    house.plug_in()
    house.watch()
    house.do("choose thumb-ring.gcode")
    house.do("start")
    wait("the job to build", lambda: (house.status() or {})["machines"][0]["execution"] == "building")
    house.do("fault stall")
    wait("the message", lambda: house.phone.about("no progress"))
    house.do("stop")
    house.do("cool")
    wait("the alarm to end", lambda: "job-stalled" not in house.alarms())
    wait("the all-clear", lambda: house.phone.about("Over"))
    assert house.stop() == 0


def test_a_kill_between_raising_and_delivery_still_delivers(house: "House", wait: Wait) -> None:
    """The power of the small computer fails at the worst moment; the message comes when it is back."""
    house.phone.answering.clear()
    house.plug_in()
    house.watch()
    house.do("load")
    wait("the first attempt", lambda: house.phone.calls)
    house.kill()
    assert house.phone.messages == []
    house.phone.answering.set()
    house.watch()
    wait("the message after all", lambda: house.phone.about("Cool the nozzle"))
    assert house.alarms()["hot-idle"]["phase"] == "unacknowledged"
    assert house.stop() == 0


def test_a_restart_keeps_an_acknowledged_alarm_acknowledged(house: "House", wait: Wait) -> None:
    """Whoever took it on is not asked again because the computer was restarted, by kill or in good order."""
    house.plug_in()
    house.watch()
    house.do("load")
    wait("the message", lambda: house.phone.about("Cool the nozzle"))
    assert house.command("acknowledge", "hot-idle").returncode == 0
    for end in (house.kill, house.stop):
        end()
        told = len(house.phone.about("Cool the nozzle"))
        house.watch()
        running = (house.status() or {"running_for_s": 0})["running_for_s"]
        wait("some minutes", lambda: (house.status() or {"running_for_s": 0})["running_for_s"] > running + 600)  # noqa: B023
        assert house.alarms()["hot-idle"]["phase"] == "acknowledged"
        assert len(house.phone.about("Cool the nozzle")) == told
    house.do("cool")
    wait("the end", lambda: "hot-idle" not in house.alarms())
    assert house.stop() == 0


def test_live_and_the_replay_of_its_own_recording_raise_the_same_alarms_at_the_same_times(
    house: "House", wait: Wait
) -> None:
    """What was told can be looked into afterwards, and other limits can be tried on what really happened."""
    house.rate = 10.0
    house.settle('[limits.hot-idle]\nfloor = 20\ncap = "40 s"\n')
    house.plug_in()
    house.watch()
    house.do("load")
    wait("the alarm", lambda: "hot-idle" in house.alarms())
    house.do("cool")
    wait("its end", lambda: "hot-idle" not in house.alarms())
    assert house.stop() == 0
    (recording,) = (house.folder / "recordings").glob("*.traffic")
    replayed = [house.command("replay", str(recording), "--json").stdout for _ in range(2)]
    assert replayed[0] == replayed[1]
    rows = [json.loads(line) for line in replayed[0].splitlines()]
    again = {(row["alarm"], row["transition"]): row["at"] for row in rows if row["kind"] == "alarm"}
    incident = json.loads(house.command("show", "1", "--json").stdout)
    live = {(alarm["alarm"], step["transition"]): step["at"] for alarm in incident["alarms"] for step in alarm["steps"]}
    raised = {key: live[key] for key in live if key[1] in {"raised", "cleared"}}
    assert raised.keys() == {key for key in again if key[1] in {"raised", "cleared"}}
    assert raised
    for key, at in raised.items():
        apart = datetime.fromisoformat(at) - datetime.fromisoformat(again[key])
        assert abs(apart.total_seconds()) <= 1.0 + house.rate * 0.1, key  # one tick, and a late tick of a busy computer


def test_a_second_watch_on_the_same_state_is_refused_with_a_sentence(house: "House") -> None:
    """Two readers of one port would split its bytes at random."""
    house.plug_in()
    house.watch()
    second = house.command("watch")
    assert second.returncode == 1
    assert "already" in second.stderr
    assert house.status() is not None


def test_a_missing_device_is_said_and_found_when_it_comes(house: "House", wait: Wait) -> None:
    """The printer is switched on after the computer."""
    house.watch()
    wait("the trouble", lambda: "is not there" in str((house.status() or {})["machines"][0]["trouble"]))
    house.plug_in()
    wait("the link", lambda: (house.status() or {})["machines"][0]["link"] == "available")


def test_the_service_manager_is_told_of_start_life_and_end(house: "House", wait: Wait, tmp_path: Path) -> None:
    """A watch that hangs is restarted, and one that starts counts only when it watches."""
    place = tmp_path / "notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(str(place))
        manager.settimeout(30)
        house.plug_in()
        house.watch({"NOTIFY_SOCKET": str(place), "WATCHDOG_USEC": "1000000"})
        told = [manager.recv(4096).decode() for _ in range(4)]
        assert "READY=1" in told[0]
        assert sum("WATCHDOG=1" in word for word in told) >= 2
        assert house.stop() == 0
        manager.settimeout(5)
        words: list[str] = []
        while not any("STOPPING=1" in word for word in words):
            words.append(manager.recv(4096).decode())


MODULES = """
import asyncio, json, os, signal, sys
from pathlib import Path
from watchdog.service.run import Hooks, watch
from watchdog.settings import load
from watchdog.settings.places import of_service
settings = load(Path(sys.argv[1]))
def ready():
    print(json.dumps(sorted(sys.modules)))
    os.kill(os.getpid(), signal.SIGTERM)
asyncio.run(watch(settings, of_service(settings.places), hooks=Hooks(ready)))
"""


def test_the_running_service_holds_no_delivery_or_number_library(house: "House") -> None:
    """A plug-in that hangs or a library of 70 MB has no place in the process that reads the machine."""
    command = [sys.executable, "-c", MODULES, str(house.config)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=True)
    loaded = json.loads(next(line for line in done.stdout.splitlines() if line.startswith("[")))
    modules = {name.split(".")[0] for name in loaded}
    assert "serial" in modules
    assert not modules & {"apprise", "numpy", "scipy", "requests", "matplotlib"}
    assert not any(name.startswith("watchdog.simulator") for name in loaded)
