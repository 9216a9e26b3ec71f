"""The real service and a real broker: what a display sees, what a person says there, what is left when either dies."""

import json
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import paho.mqtt.client as paho
import pytest
from paho.mqtt.enums import CallbackAPIVersion

if TYPE_CHECKING:
    from tests.conftest import Mosquitto
    from tests.service.conftest import House

Wait = Callable[..., Any]
Start = Callable[..., "Mosquitto"]

BASE = "emberward/shelf"
MACHINE = f"{BASE}/machine/doorway-1"
RECORDINGS = Path(__file__).parents[1] / "recordings" / "replay"

pytestmark = pytest.mark.timeout(240)


class Display:
    """Another client, which reads everything and may write."""

    def __init__(self, port: int, user: str | None = None, password: str | None = None) -> None:
        self.heard: list[tuple[str, bytes, bool]] = []
        self.kept: dict[str, bytes] = {}
        self._there = threading.Event()
        self._client = paho.Client(CallbackAPIVersion.VERSION2)
        if user is not None:
            self._client.username_pw_set(user, password)
        self._client.on_connect = self._connected
        self._client.on_message = self._message
        self._client.reconnect_delay_set(1, 1)
        self._client.connect("127.0.0.1", port)
        self._client.loop_start()
        assert self._there.wait(30)

    def _connected(self, client: paho.Client, *_: Any) -> None:
        client.subscribe("#", 1)
        self._there.set()

    def _message(self, client: paho.Client, userdata: Any, message: paho.MQTTMessage) -> None:
        self.heard.append((message.topic, bytes(message.payload), message.retain))
        self.kept[message.topic] = bytes(message.payload)

    def say(self, topic: str, payload: str | bytes, *, retain: bool = False) -> None:
        """Publish, and wait until the broker has it."""
        self._client.publish(topic, payload, qos=1, retain=retain).wait_for_publish(30)

    def on(self, topic: str) -> list[bytes]:
        """Everything heard on one topic."""
        return [payload for where, payload, _ in list(self.heard) if where == topic]

    def now(self, topic: str) -> Any:
        """What stands on a topic, as JSON; None when nothing does."""
        payload = self.kept.get(topic)
        return json.loads(payload) if payload else None

    def events(self, kind: str) -> list[dict[str, Any]]:
        """Events of doorway-1 so far."""
        return [told for told in map(json.loads, self.on(f"{MACHINE}/event")) if told["kind"] == kind]

    def close(self) -> None:
        self._client.disconnect()
        self._client.loop_stop()


@pytest.fixture
def display() -> Iterator[Callable[..., Display]]:
    made: list[Display] = []

    def look(*where: Any) -> Display:
        made.append(Display(*where))
        return made[-1]

    yield look
    for one in made:
        one.close()


def settings(broker: "Mosquitto", more: str = "") -> str:
    return f'[mqtt]\nhost = "127.0.0.1"\nport = {broker.port}\nbase = "{BASE}"\n{more}'


def taken(house: "House") -> dict[str, Any]:
    """What the service says of its broker."""
    found = (house.status() or {"watch": {"mqtt": {}}})["watch"]["mqtt"]
    assert isinstance(found, dict)
    return found


def impairments(house: "House") -> list[str]:
    """What keeps the watch from its work; not empty while it does not answer."""
    status = house.status()
    return ["no answer"] if status is None else list(status["watch"]["impairments"])


def let_in(tmp_path: Path, users: dict[str, str], rights: str) -> tuple[str, ...]:
    """Configuration of a broker that knows its users and what each may do."""
    passwords = tmp_path / "passwords"
    passwords.touch(0o600)
    for user, password in users.items():
        subprocess.run(["mosquitto_passwd", "-b", passwords, user, password], check=True, capture_output=True)
    (tmp_path / "rights").write_text(rights)
    return "allow_anonymous false", f"password_file {passwords}", f"acl_file {tmp_path}/rights"


def test_without_a_broker_its_library_is_not_loaded() -> None:
    """It takes 5 MB and a tenth of a second, for nothing."""
    code = "import sys, watchdog.service.run; print('aiomqtt' in sys.modules, 'paho' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["False", "False"]


def test_an_alarm_is_seen_and_acknowledged_over_the_network(
    house: "House", wait: Wait, mosquitto: Start, display: Callable[..., Display], tmp_path: Path
) -> None:
    """A display by the door shows it, a tap there ends the messages, and the log says who it was."""
    rights = f"user watch\ntopic readwrite {BASE}/#\nuser screen\ntopic readwrite #\n"
    broker = mosquitto(*let_in(tmp_path, {"watch": "one", "screen": "two"}, rights))
    screen = display(broker.port, "screen", "two")
    screen.say(f"{MACHINE}/acknowledge/hot-idle", "somebody long ago", retain=True)
    house.settle(settings(broker, 'user = "watch"\npassword = "one"\n'))
    house.config.chmod(0o600)
    house.plug_in()
    house.watch()
    house.do("load")
    alarm, state = f"{MACHINE}/alarm/hot-idle", f"{MACHINE}/state"
    raised = wait("the alarm", lambda: screen.now(alarm))
    assert (raised["v"], raised["phase"], raised["priority"]) == (1, "unacknowledged", "high")
    assert raised["do"] == house.alarms()["hot-idle"]["do"]
    told = screen.now(state)
    assert (told["v"], told["link"], told["hotend"]) == (1, "available", "hot")
    assert told["nozzle"]["now"] > 150
    assert screen.kept[f"{BASE}/availability"] == b"online"

    screen.say(f"{MACHINE}/acknowledge/hot-idle", '{"by": "evening tutor"}')
    wait("the acknowledgement", lambda: screen.now(alarm)["acknowledged_by"] == "evening tutor")
    assert house.alarms()["hot-idle"]["acknowledged_by"] == "evening tutor"
    assert taken(house)["acknowledge_retained"] == 1
    house.do("cool")
    wait("an empty topic", lambda: screen.kept[alarm] == b"")
    steps = [event["transition"] for event in screen.events("alarm") if event["alarm"] == "hot-idle"]
    assert steps == ["raised", "acknowledged", "returned", "cleared"]
    (by,) = [(event["by"], event["how"]) for event in screen.events("alarm") if event["transition"] == "acknowledged"]
    assert by == ("evening tutor", "mqtt")
    wait("a cooling nozzle", lambda: screen.now(state)["hotend"] in {"cooling", "cold"})

    assert house.stop() == 0
    wait("a good-bye", lambda: screen.kept[f"{BASE}/availability"] == b"offline")
    incident = json.loads(house.command("show", "1", "--json").stdout)
    acknowledged = [step for step in incident["alarms"][0]["steps"] if step["transition"] == "acknowledged"]
    assert "evening tutor" in json.dumps(acknowledged)
    everything = b"".join(payload for _, payload, _ in screen.heard).decode()
    assert "one" not in house.log.replace("phone", "") or "password" not in house.log
    assert "hot-idle" in everything


def test_a_watch_that_is_killed_is_offline_by_its_last_will(
    house: "House", wait: Wait, mosquitto: Start, display: Callable[..., Display]
) -> None:
    """And what stood when it died stands in the topic after its return, or is emptied."""
    broker = mosquitto()
    screen = display(broker.port)
    house.settle(settings(broker))
    house.plug_in()
    house.watch()
    house.do("load")
    alarm = f"{MACHINE}/alarm/hot-idle"
    wait("the alarm", lambda: screen.now(alarm))
    house.kill()
    wait("the last will", lambda: screen.on(f"{BASE}/availability") == [b"online", b"offline"])
    assert screen.now(alarm)["phase"] == "unacknowledged"
    house.do("cool")
    house.watch()
    wait("its return", lambda: screen.kept[f"{BASE}/availability"] == b"online")
    wait("an empty topic", lambda: screen.kept[alarm] == b"")
    assert house.stop() == 0


def test_a_broker_that_is_away_in_the_middle_of_an_alarm_learns_everything(
    house: "House", wait: Wait, mosquitto: Start, display: Callable[..., Display]
) -> None:
    """After five minutes the watch says that it is impaired; the messages to people go on all the while."""
    broker = mosquitto()
    house.settle(settings(broker))
    house.plug_in()
    house.watch()
    wait("the connection", lambda: taken(house).get("connected"))
    broker.kill()
    house.do("load")
    wait("the message", lambda: house.phone.about("Cool the nozzle"))
    wait("the impairment", lambda: [s for s in impairments(house) if "MQTT: the broker" in s])
    assert house.command("acknowledge", "doorway-1/hot-idle", "--by", "caretaker").returncode == 0
    broker.start()
    screen = display(broker.port)
    kept = wait("the alarm as it stands", lambda: screen.now(f"{MACHINE}/alarm/hot-idle"))
    assert (kept["phase"], kept["acknowledged_by"]) == ("acknowledged", "caretaker")
    wait("the state", lambda: screen.now(f"{MACHINE}/state"))
    wait("a well watch", lambda: impairments(house) == [])
    assert not taken(house)["dropped"]
    assert house.stop() == 0


def test_rubbish_from_the_network_changes_nothing_and_is_counted(
    house: "House", wait: Wait, mosquitto: Start, display: Callable[..., Display]
) -> None:
    broker = mosquitto()
    screen = display(broker.port)
    sensor = '[sensors.air]\nmachine = "doorway-1"\nkind = "room-temperature"\ntopic = "room/air"\npointer = "/t"\n'
    house.settle(settings(broker, sensor))
    house.plug_in()
    house.watch()
    house.do("load")
    wait("the alarm", lambda: screen.now(f"{MACHINE}/alarm/hot-idle"))
    screen.say("room/air", '{"t": 21.5}')
    wait("the value", lambda: (screen.now(f"{MACHINE}/state") or {})["sensors"]["air"]["value"] == 21.5)
    deep = "[" * 30_000 + "]" * 30_000
    rubbish: list[str | bytes] = [
        b"\xff" * 1_000_000,
        b"\xff\xfe\x00",
        deep,
        '{"t": ' * 5000,
        '{"t": [1]}',
        '{"t": true',
        "",
        '{"t": 1e999}',
        "NaN",
    ]
    for payload in rubbish:
        screen.say("room/air", payload)
        screen.say(f"{MACHINE}/acknowledge/hot-idle", payload)
    screen.say("room/air", '{"t": 99.0}', retain=True)
    for topic in ("nobody/acknowledge/hot-idle", "doorway-1/acknowledge/no-such-alarm"):
        screen.say(f"{BASE}/machine/{topic}", "duty warden")
    wait("all of it", lambda: taken(house).get("acknowledge_unknown") == 2)
    counted = taken(house)
    assert counted["too_large"] == 2
    assert counted["sensor_unread"] == len(rubbish) - 1
    assert counted["acknowledge_unread"] == len(rubbish) - 2  # 'NaN' is a name like another
    assert counted["connections"] == 1
    wait("the one name", lambda: house.alarms()["hot-idle"]["acknowledged_by"] == "NaN")
    assert house.stop() == 0


def test_a_sensor_that_falls_silent_is_unknown_and_told(
    house: "House", wait: Wait, mosquitto: Start, display: Callable[..., Display]
) -> None:
    """Its last value must not stand for the present one, whoever keeps it."""
    broker = mosquitto()
    screen = display(broker.port)
    sensor = '[sensors.door]\nmachine = "doorway-1"\nkind = "door"\ntopic = "room/door"\nstale_after = "3 min"\n'
    screen.say("room/door", "open", retain=True)
    house.settle(settings(broker, sensor))
    house.plug_in()
    house.watch()
    wait("the kept one", lambda: taken(house).get("sensor_retained") == 1)
    told = wait("a state", lambda: screen.now(f"{MACHINE}/state"))
    assert told["sensors"]["door"]["value"] is None
    screen.say("room/door", "closed")
    wait("the value", lambda: screen.now(f"{MACHINE}/state")["sensors"]["door"]["value"] == 0)
    silent = wait("its silence", lambda: [s for s in impairments(house) if "door" in s])
    assert "sensor door (door) has said nothing for too long" in silent[0]
    assert screen.now(f"{MACHINE}/state")["sensors"]["door"] == {"kind": "door", "value": None, "stale": True}
    screen.say("room/door", "closed")
    wait("its return", lambda: impairments(house) == [])
    assert house.stop() == 0


@pytest.mark.parametrize("bare", [False, True], ids=["recorded lines", "bare lines"])
def test_a_machine_watched_through_mqtt_raises_the_alarms_of_its_recording(
    bare: bool, house: "House", wait: Wait, mosquitto: Start, display: Callable[..., Display]
) -> None:
    """One service for a floor: the wire is elsewhere, the judgement is the same."""
    broker = mosquitto()
    screen = display(broker.port)
    recording = RECORDINGS / "hot-after-a-load.traffic"
    house.settle(settings(broker))
    text = house.config.read_text().replace(
        f'port = "{house.folder}/port"\nrecord = true', 'source = "mqtt"\ntopic = "floor/1"'
    )
    house.config.write_text(text)
    house.watch()
    wait("the connection", lambda: taken(house).get("connected"))
    expected = [json.loads(line) for line in recording.with_suffix(".expected.jsonl").read_text().splitlines()]
    steps = [(row["alarm"], row["transition"]) for row in expected if row["kind"] == "alarm"]
    assert steps
    began = first = None
    for line in recording.read_text().splitlines()[:-1]:  # all but 'watch stopped'
        at = datetime.fromisoformat(line[:24]).timestamp()
        if began is None or first is None:
            began, first = time.monotonic(), at
        time.sleep(max(0.0, began + (at - first) / house.rate - time.monotonic()))
        if not bare:
            screen.say("floor/1", line)
        elif line[25] == "<":
            screen.say("floor/1", line[27:])
    wait("all steps", lambda: len(screen.events("alarm")) >= len(steps))
    assert [(event["alarm"], event["transition"]) for event in screen.events("alarm")][: len(steps)] == steps
    told = [(event["axis"], event["to"]) for event in screen.events("state") if event["axis"] == "hotend"]
    golden = [("hotend", row["to"]) for row in expected if row["kind"] == "hotend"][
        :-1
    ]  # the last is the recording's end
    assert told[: len(golden)] == golden
    assert house.stop() == 0
