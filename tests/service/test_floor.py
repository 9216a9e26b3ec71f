"""One service for a floor, watched through a real broker: its numbers, its sensors, and what it does not see."""

import json
import socket
import subprocess
import sys
import threading
import urllib.request
from collections.abc import Callable, Iterator
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion
from prometheus_client.metrics_core import Metric
from prometheus_client.openmetrics.parser import text_string_to_metric_families

if TYPE_CHECKING:
    from tests.conftest import Mosquitto
    from tests.service.conftest import House

Wait = Callable[..., Any]
Start = Callable[..., "Mosquitto"]

BASE = "emberward/shelf"
HOT = "ok T:205.0 /205.0 B:60.0 /60.0 @:40 B@:20"
COLD = "ok T:23.8 /0.0 B:23.1 /0.0 @:0 B@:0"

pytestmark = pytest.mark.timeout(240)


class Floor:
    """The other end of the wires: says each machine's line again and again, and keeps what the service says."""

    def __init__(self, port: int) -> None:
        self.lines: dict[str, str] = {}
        self.kept: dict[str, bytes] = {}
        self._gone = threading.Event()
        self._client = paho.Client(CallbackAPIVersion.VERSION2)
        self._client.on_connect = lambda client, *_: client.subscribe("#", 1)
        self._client.on_message = self._message
        self._client.reconnect_delay_set(1, 1)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        self._thread = threading.Thread(target=self._speak, daemon=True)
        self._thread.start()

    def say(self, topic: str, payload: str) -> None:
        self._client.publish(topic, payload, qos=1)

    def close(self) -> None:
        self._gone.set()
        self._thread.join(30)
        self._client.disconnect()
        self._client.loop_stop()

    def _message(self, client: paho.Client, userdata: Any, message: paho.MQTTMessage) -> None:
        self.kept[message.topic] = bytes(message.payload)

    def _speak(self) -> None:
        while not self._gone.wait(0.05):
            for topic, line in list(self.lines.items()):
                if self._client.is_connected():  # what is said while the broker is away, nobody hears
                    self._client.publish(topic, line, qos=0)


@pytest.fixture
def floor() -> Iterator[Callable[[int], Floor]]:
    made: list[Floor] = []

    def stand(port: int) -> Floor:
        made.append(Floor(port))
        return made[-1]

    yield stand
    for one in made:
        one.close()


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as free:
        return int(free.getsockname()[1])


def through_mqtt(house: "House", broker: "Mosquitto", more: str = "") -> None:
    """Settings of two machines whose traffic comes by MQTT."""
    house.settle(f'[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\nbase = "{BASE}"\n{more}')
    serial = f'port = "{house.folder}/port"\nrecord = true\n'
    topics = 'source = "mqtt"\ntopic = "floor/1"\n[machines.loft-1]\nsource = "mqtt"\ntopic = "floor/2"\n'
    house.config.write_text(house.config.read_text().replace(serial, topics))


def machine(house: "House", name: str) -> dict[str, Any]:
    status = house.status()
    found = next((one for one in (status or {"machines": []})["machines"] if one["machine"] == name), None)
    return found or {"link": None, "hotend": None, "alarms": [], "sensors": [], "conditions": {}}


def links(house: "House", name: str) -> list[str]:
    """What has become of a machine's link, as logged."""
    rows = [json.loads(line) for line in house.log.splitlines() if line.startswith("{")]
    return [row["after"] for row in rows if row.get("axis") == "link" and row.get("machine") == name]


def alarms(house: "House", name: str) -> set[str]:
    return {alarm["alarm"] for alarm in machine(house, name)["alarms"]}


def test_two_machines_through_one_broker_are_told_apart_and_a_broken_one_leaves_nothing_well(
    house: "House", wait: Wait, mosquitto: Start, floor: Callable[[int], Floor]
) -> None:
    """While the broker is away nobody sees either machine: each is told, the hot one first, and neither counts as cold."""
    broker = mosquitto()
    ends = floor(broker.port)
    through_mqtt(house, broker)
    house.watch()
    ends.lines = {"floor/1": HOT, "floor/2": COLD}
    wait("both", lambda: (machine(house, "doorway-1")["hotend"], machine(house, "loft-1")["hotend"]) == ("hot", "cold"))
    wait("the hot one's state", lambda: b'"hotend":"hot"' in ends.kept.get(f"{BASE}/machine/doorway-1/state", b""))
    wait("the cold one's", lambda: b'"hotend":"cold"' in ends.kept.get(f"{BASE}/machine/loft-1/state", b""))
    broker.kill()
    wait("the alarm of the hot one", lambda: "link-lost" in alarms(house, "doorway-1"))
    wait("the alarm of the cold one", lambda: "silent" in alarms(house, "loft-1"))
    for name in ("doorway-1", "loft-1"):
        blind = machine(house, name)
        assert (blind["link"], blind["execution"], blind["hotend"]) == ("unavailable", "unavailable", "unknown")
        assert blind["conditions"]["heat"] == blind["conditions"]["job"] == "unavailable"
    assert "link-lost" not in alarms(house, "loft-1")
    wait("the message", lambda: house.phone.about("doorway-1"))
    told = house.command("status").stdout
    assert "not connected" in told
    assert "cannot tell much" not in told  # no machine without an alarm is left that this would be said of
    broker.start()
    wait("both again", lambda: {machine(house, one)["link"] for one in ("doorway-1", "loft-1")} == {"available"})
    wait("an end", lambda: not alarms(house, "doorway-1") & {"link-lost"} and "silent" not in alarms(house, "loft-1"))

    for name in ("doorway-1", "loft-1"):  # the blind time is in the log, with both its ends
        assert links(house, name) == ["available", "unavailable", "available"]
    incident = json.loads(house.command("show", "1", "--json").stdout)
    assert {alarm["alarm"] for alarm in incident["alarms"]} == {"link-lost"}
    assert house.stop() == 0


def scraped(port: int) -> dict[str, Metric]:
    """What is told there, by the library's own parser."""
    wanted = {"Accept": "application/openmetrics-text; version=1.0.0"}
    request = urllib.request.Request(f"http://127.0.0.1:{port}/metrics", headers=wanted)
    with urllib.request.urlopen(request, timeout=30) as answer:
        text = answer.read().decode()
    return {family.name: family for family in text_string_to_metric_families(text)}  # type: ignore[no-untyped-call]


def values(family: Metric, **labels: str) -> list[float]:
    return [one.value for one in family.samples if labels.items() <= dict(one.labels).items()]


SENSORS = """
[sensors.loft-1-air]
machine = "loft-1"
kind = "room-temperature"
topic = "room/air"
high = 32.0
stale_after = "3 min"
[sensors.loft-1-door]
machine = "loft-1"
kind = "door"
topic = "room/door"
stale_after = "1 d"
"""


def test_the_numbers_and_the_status_of_a_floor_tell_its_sensors_and_hostile_readers_harm_nobody(
    house: "House", wait: Wait, mosquitto: Start, floor: Callable[[int], Floor]
) -> None:
    broker, port = mosquitto(), free_port()
    ends = floor(broker.port)
    through_mqtt(house, broker, f"{SENSORS}[metrics]\nport = {port}\n")
    house.watch()
    ends.lines = {"floor/1": HOT, "floor/2": COLD}
    wait("heat", lambda: machine(house, "doorway-1")["hotend"] == "hot")
    ends.say("room/door", "open")
    wait("the door", lambda: any(one["value"] == 1 for one in machine(house, "loft-1")["sensors"]))
    ends.lines["room/air"] = "21.5"
    wait("the air", lambda: [one["value"] for one in machine(house, "loft-1")["sensors"]] == [21.5, 1.0])

    _be_hostile(port)
    wait("its number", lambda: values(scraped(port)["emberward_sensor"], sensor="loft-1-air") == [21.5])
    told = scraped(port)
    assert values(told["emberward_sensor_stale"], sensor="loft-1-air") == [0]
    assert values(told["emberward_sensor"], sensor="loft-1-air", measured_in="°C") == [21.5]
    assert values(told["emberward_temperature_celsius"], machine="doorway-1", heater="nozzle") == [205.0]
    assert values(told["emberward_hotend"], machine="doorway-1", emberward_hotend="hot") == [1]
    assert values(
        told["emberward_condition"], machine="loft-1", subject="surroundings", emberward_condition="normal"
    ) == [1]
    assert values(told["emberward_broker_waiting"]) != []
    assert values(told["emberward_uptime_seconds"])[0] > 0
    wait("the delivered", lambda: values(scraped(port)["emberward_attempts"], outcome="delivered") != [0.0])
    wait("an alarm", lambda: values(scraped(port)["emberward_alarm"], machine="doorway-1", alarm="hot-idle") == [1])
    families = scraped(port)
    wanted = {"build", "start_time_seconds", "target_celsius", "link", "execution", "lines", "lines_unparsed"}
    wanted |= {"lines_damaged", "lines_dropped", "lines_waiting", "answer_seconds", "delivery_seconds", "outbox"}
    wanted |= {"outbox_oldest_seconds", "record_waiting", "refused", "sensor_heard_seconds"}
    assert {f"emberward_{name}" for name in wanted} <= set(families)

    shown = house.command("status").stdout
    assert "loft-1-air (room-temperature)  21.5 °C · heard" in shown
    assert "loft-1-door (door)  open · heard" in shown
    assert "broker     127.0.0.1" in shown
    assert "GB of disk free" in shown
    del ends.lines["room/air"]
    wait("its silence", lambda: values(scraped(port)["emberward_sensor_stale"], sensor="loft-1-air") == [1])
    assert values(scraped(port)["emberward_sensor"], sensor="loft-1-air") == []
    assert values(scraped(port)["emberward_sensor_heard_seconds"], sensor="loft-1-air")[0] >= 180
    wait("what is wrong", lambda: "watch-impaired" in house.command("status").stdout)
    wait("the condition", lambda: machine(house, "loft-1")["conditions"]["surroundings"] == "unavailable")
    assert "loft-1-air (room-temperature)  not known: quiet for too long · heard" in house.command("status").stdout
    assert house.stop() == 0


def _be_hostile(port: int) -> None:
    """Readers that never ask to the end, ask for nonsense, or go before the answer. They are held open for a while."""
    words: tuple[bytes, ...] = (
        b"",
        b"G",
        b"GET /metrics HTTP/1.1\r\nX: " + b"a" * 100_000,
        b"\x00\xff" * 5000 + b"\r\n\r\n",
    )
    words += (b"POST /metrics HTTP/1.1\r\nContent-Length: 99999999999\r\n\r\n", b"GET /metrics?name[]=" + b"x" * 60_000)
    words += (b"GET /metrics HTTP/1.0\r\nAccept-Encoding: gzip\r\n\r\n", b"GET /../../etc/passwd HTTP/1.0\r\n\r\n")
    held = []
    for each in words * 3:
        reader = socket.create_connection(("127.0.0.1", port), timeout=10)
        held.append(reader)
        with suppress(OSError):
            reader.sendall(each)
    assert scraped(port)["emberward_build"].samples
    for reader in held:
        reader.close()
    assert scraped(port)["emberward_build"].samples


def test_without_numbers_their_library_is_not_loaded() -> None:
    """It takes memory and time at each start, for nothing."""
    code = "import sys, watchdog.service.run; print('prometheus_client' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False"]
