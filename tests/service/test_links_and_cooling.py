"""From the wire to a tap: a link in a message takes an alarm on, and a nozzle that nobody answers for is cooled once."""

import json
import re
import socket
import urllib.error
import urllib.request
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from tests.service.conftest import House

Wait = Callable[..., Any]


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as found:
        port: int = found.getsockname()[1]
        return port


def link_in(house: "House") -> str | None:
    found = re.search(r"http://127\.0\.0\.1:\d+/a/[\w-]+", json.dumps(house.phone.messages))
    return found[0] if found else None


def tap(link: str) -> tuple[int, str]:
    request = urllib.request.Request(link, data=b"answer=taken", method="POST")
    try:
        with urllib.request.urlopen(request, timeout=20) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as refused:
        return refused.code, refused.read().decode()


def button_of(page: str) -> str:
    found = re.search(r'name="answer" value="([^"]+)"', page)
    assert found is not None
    return found[1]


def test_a_tap_on_the_link_in_the_message_takes_the_alarm_on(house: "House", wait: Wait) -> None:
    """Teaching at the far end of the hall: one tap, and the phone is quiet."""
    port = free_port()
    house.settle(f'[page]\nlisten = "127.0.0.1:{port}"\naddress = "http://127.0.0.1:{port}"\n')
    house.plug_in()
    house.watch()
    house.do("load")
    link = wait("a link in the message", lambda: link_in(house))
    with urllib.request.urlopen(link, timeout=20) as looked:
        page = looked.read().decode()
    assert house.alarms()["hot-idle"]["phase"] == "unacknowledged"
    request = urllib.request.Request(link, data=f"answer={button_of(page)}".encode(), method="POST")
    with urllib.request.urlopen(request, timeout=20) as answered:
        assert answered.status == 200
    taken = house.alarms()["hot-idle"]
    assert (taken["phase"], taken["acknowledged_by"]) == ("acknowledged", "workshop-lead")
    shown = house.command("incidents", "--json").stdout
    assert "workshop-lead" in shown
    forged = link[:-4] + ("AAAA" if not link.endswith("AAAA") else "BBBB")
    assert tap(forged)[0] == 404
    assert house.stop() == 0


def test_a_nozzle_that_nobody_answers_for_is_cooled_once_and_told(house: "House", wait: Wait) -> None:
    """Only because the settings ask for it; by the machine's own port; and only this once."""
    cools = '[machines.doorway-1.cooling]\nenabled = true\nunanswered = "2 min"\nidle_for = "5 min"\n'
    house.settle(cools)
    house.plug_in()
    house.watch()
    house.do("load")
    wait("the alarm", lambda: "hot-idle" in house.alarms())
    wait("the heater to be off", lambda: (house.status() or {})["machines"][0]["nozzle"]["target"] == 0)
    wait("the report", lambda: house.phone.about("cut the nozzle's heat; it cools"))
    sent = [line for file in house.folder.rglob("*.traffic") for line in file.read_text().splitlines()]
    assert sum(line.endswith("> M104 S0") for line in sent) == 1
    wait("the alarm to end by itself", lambda: "hot-idle" not in house.alarms())
    assert house.stop() == 0


def test_without_being_asked_for_nothing_is_ever_switched_off(house: "House", wait: Wait) -> None:
    house.plug_in()
    house.watch()
    house.do("load")
    wait("the alarm", lambda: "hot-idle" in house.alarms())
    running = (house.status() or {"running_for_s": 0})["running_for_s"]
    wait("ten minutes more", lambda: (house.status() or {"running_for_s": 0})["running_for_s"] > running + 600)
    assert house.alarms()["hot-idle"]["phase"] == "unacknowledged"
    sent = [line for file in house.folder.rglob("*.traffic") for line in file.read_text().splitlines()]
    assert not [line for line in sent if "> M104" in line or "> M140" in line]
    assert house.stop() == 0
