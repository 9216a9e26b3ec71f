"""The broker away, full of refusals, or in the wrong hands: nothing is lost that matters, and somebody is told what to do."""

import asyncio
import socket
import subprocess
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import aiomqtt
import pytest

from watchdog.broker.broker import Broker
from watchdog.broker.options import Options, Tls
from watchdog.broker.waiting import Kind
from watchdog.clock import Clock

BASE = "emberward/shelf"
Start = Callable[..., Any]
Until = Callable[..., Any]
Listening = Callable[..., Any]


class Told:
    """What a broker of ours reported, and what it said at once."""

    def __init__(self) -> None:
        self.reported: list[str | None] = []
        self.said: list[str] = []


@asynccontextmanager
async def running(options: Options, rate: float = 1.0) -> AsyncIterator[tuple[Broker, Told]]:
    """`Broker.run` in a task; leaving cancels it, as the service does."""
    told = Told()
    broker = Broker(options, Clock(rate), told.reported.append, told.said.append)
    async with asyncio.TaskGroup() as tasks:
        task = tasks.create_task(broker.run())
        try:
            yield broker, told
        finally:
            task.cancel()


def looked(broker: Broker, told: Told) -> list[str | None]:
    """What was reported, after another look."""
    broker.look()
    return told.reported


def options_for(port: int, **more: Any) -> Options:
    return Options("127.0.0.1", BASE, port, **more)


def event(number: int) -> bytes:
    return f"event {number}".encode()


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
async def test_it_says_that_it_is_there_and_says_good_bye(
    protocol: str, mosquitto: Start, listening: Listening, until: Until
) -> None:
    broker = mosquitto()
    async with listening(broker.port) as ear:
        async with running(options_for(broker.port, protocol=protocol)) as (ours, told):
            ours.publish(ours.topics.state("doorway-1"), b"{}", True, Kind.STATE)
            await until("both", lambda: len(ear.heard) >= 2)
            assert ear.on(f"{BASE}/availability") == [b"online"]
            assert ear.on(f"{BASE}/machine/doorway-1/state") == [b"{}"]
            assert ours.connected
        await until("the good-bye", lambda: ear.on(f"{BASE}/availability") == [b"online", b"offline"])
        assert told.reported == []
    async with listening(broker.port) as later:
        await until("what is retained", lambda: len(later.heard) == 2)
        assert all(retained for _, _, retained in later.heard)
        assert later.on(f"{BASE}/availability") == [b"offline"]


async def test_a_broker_away_for_minutes_loses_no_alarm_and_keeps_only_the_newest_state(
    mosquitto: Start, listening: Listening, until: Until
) -> None:
    """It dies in the middle of an incident, is away for ten minutes, and comes back knowing nothing."""
    broker = mosquitto()
    async with running(options_for(broker.port), rate=120.0) as (ours, told):
        alarm, happens = ours.topics.alarm("doorway-1", "hot-idle"), ours.topics.event("doorway-1")
        async with listening(broker.port) as ear:
            ours.publish(alarm, b"raised", True, Kind.ALARM)
            ours.publish(happens, event(0), False, Kind.ALARM)
            await until("the first event", lambda: ear.on(happens))
            broker.kill()
            for number in range(1, 200):
                ours.publish(happens, event(number), False, Kind.ALARM)
                ours.publish(ours.topics.state("doorway-1"), f"state {number}".encode(), True, Kind.STATE)
            ours.publish(alarm, b"acknowledged", True, Kind.ALARM)
            await until("a report", lambda: looked(ours, told))
        assert told.reported[0] is not None
        assert "cannot be reached: [Errno 111] Connection refused. Is it running" in told.reported[0]
        before = ours.counts["said"]
        assert ours.facts()["waiting"] == 199 + 2
        broker.start()
        await until("everything", lambda: ours.connected and not ours.facts()["waiting"])
        assert ours.counts["said"] == before + 199 + 3  # the broker has confirmed each event, both topics, and 'online'
        async with listening(broker.port) as ear:
            await until("what is retained", lambda: len(ear.heard) == 3)
            assert ear.on(f"{BASE}/availability") == [b"online"]
            assert ear.on(ours.topics.state("doorway-1")) == [b"state 199"]
            assert ear.on(alarm) == [b"acknowledged"]
        await until("the end of the report", lambda: looked(ours, told)[-1] is None)
    assert not ours.facts()["dropped"]


async def test_every_alarm_transition_arrives_in_its_order_after_a_break(
    mosquitto: Start, listening: Listening, until: Until
) -> None:
    """A listener that keeps its session at the broker gets all of them, whenever the network went."""
    broker = mosquitto("max_queued_messages 0", "max_inflight_messages 0")
    there = {"identifier": "archive", "clean_session": False}
    async with running(options_for(broker.port), rate=60.0) as (ours, _):
        happens = ours.topics.event("doorway-1")
        async with listening(broker.port, happens, **there) as ear:
            for number in range(300):
                ours.publish(happens, event(number), False, Kind.ALARM)
                if number == 100:
                    await until("some", lambda: len(ear.heard) > 50)
                    await _cut(broker.port, ours.options.client)
            await until("the last", lambda: event(299) in ear.on(happens))
            assert ours.counts["connections"] == 2
        first_of_each = list(dict.fromkeys(ear.on(happens)))
        assert first_of_each == [event(number) for number in range(300)]


async def _cut(port: int, client: str) -> None:
    """Another client takes the name: the broker closes the connection that had it."""
    async with aiomqtt.Client("127.0.0.1", port, identifier=client):
        pass


async def test_two_services_of_one_base_topic_are_told_so(mosquitto: Start, until: Until) -> None:
    """They push each other off for ever; each time that one connects all looks well."""
    broker = mosquitto()
    options = options_for(broker.port, impaired_after=60.0)
    async with running(options, 60.0) as (one, told), running(options, 60.0) as (other, _):
        for both in (one, other):
            assert both.options.client == options.client
        await until("a report", lambda: [words for words in looked(one, told) if words])
        assert "two services have one base topic and push each other off" in str(told.reported[0])


def let_in(passwords: Path, user: str, password: str) -> None:
    """A password file with one user."""
    subprocess.run(["mosquitto_passwd", "-b", "-c", passwords, user, password], check=True, capture_output=True)


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
async def test_a_password_that_is_wrong_is_told_without_being_told(
    protocol: str, mosquitto: Start, until: Until, tmp_path: Path
) -> None:
    passwords = tmp_path / "passwords"
    let_in(passwords, "watch", "right")
    broker = mosquitto("allow_anonymous false", f"password_file {passwords}")
    options = options_for(broker.port, protocol=protocol, user="watch", password="s3cret-wrong", impaired_after=60.0)
    async with running(options, 60.0) as (ours, told):
        await until("a report", lambda: looked(ours, told))
        assert "refuses this service (Not authorized). Look at user and password in [mqtt]" in str(told.reported[0])
        assert "s3cret" not in repr((told.said, told.reported, ours.facts(), options))
        assert len(told.said) == 1  # the same words once, however often it is tried
    async with running(options_for(broker.port, protocol=protocol, user="watch", password="right")) as (ours, _):
        await until("the connection", lambda: ours.connected)


async def test_what_the_broker_does_not_allow_is_told_with_the_remedy(
    mosquitto: Start, until: Until, tmp_path: Path, listening: Listening
) -> None:
    """A list of rights with a gap: the rest goes on, and whoever keeps the list learns what is missing."""
    rights = tmp_path / "rights"
    rights.write_text(f"topic write {BASE}/availability\ntopic write {BASE}/machine/+/state\ntopic read plain/#\n")
    broker = mosquitto(f"acl_file {rights}")
    stands: list[str | None] = []
    heard: list[bytes] = []
    told = Told()
    ours = Broker(options_for(broker.port, impaired_after=1.0), Clock(), told.reported.append, told.said.append)
    ours.subscribe("secret/topic", lambda *_: None, stands.append)
    ours.subscribe("plain/topic", lambda topic, payload, retained: heard.append(payload))
    async with asyncio.TaskGroup() as tasks:
        task = tasks.create_task(ours.run())
        ours.publish(ours.topics.event("doorway-1"), b"1", False, Kind.ALARM)
        ours.publish(ours.topics.state("doorway-1"), b"2", True, Kind.STATE)
        await until("the state", lambda: ours.counts["said"] >= 2)
        assert ours.counts["refused"] == 1
        await until("a report", lambda: looked(ours, told))
        task.cancel()
    words = " ".join(told.said)
    assert f"does not let this service publish {BASE}/machine/doorway-1/event (Not authorized)" in words
    assert f"Allow its user to write {BASE}/#." in words
    assert "let this service read secret/topic" in words or stands == [None]  # the broker may grant it and send nothing
    assert told.reported[0] is not None


async def test_nothing_that_others_send_does_harm(mosquitto: Start, until: Until) -> None:
    broker = mosquitto()
    taken: list[bytes] = []
    ours = Broker(options_for(broker.port), Clock(), lambda sentence: None, lambda sentence: None)
    ours.subscribe("room/+", lambda topic, payload, retained: taken.append(payload))
    async with asyncio.TaskGroup() as tasks:
        task = tasks.create_task(ours.run())
        await until("the connection", lambda: ours.connected)
        async with aiomqtt.Client("127.0.0.1", broker.port) as other:
            await other.publish("room/air", b"\xff" * 1_000_000, qos=1)
            for _ in range(3):
                await other.publish("room/air", b"x" * (64 * 1024 + 1), qos=1)
            await other.publish("room/air", b"y" * (64 * 1024), qos=1)
            await other.publish("room/air", b"\xff\xfe", qos=1)
            await other.publish("room/air", b"", qos=1)
            await until("the last", lambda: b"" in taken)
        task.cancel()
    assert [len(payload) for payload in taken] == [64 * 1024, 2, 0]
    assert ours.counts["too_large"] == 4
    assert ours.counts["connections"] == 1


async def test_something_that_is_no_broker_is_told(until: Until) -> None:
    """It takes the call and says nothing: the watch neither hangs nor believes."""
    with socket.create_server(("127.0.0.1", 0)) as silent:
        async with running(options_for(silent.getsockname()[1])) as (ours, told):
            await until("a sentence", lambda: told.said)
            assert not ours.connected
    assert "gives no answer. Is it one, at this port?" in told.said[0]


def certified(folder: Path, *names: str) -> None:
    """An authority, and a certificate signed by it for each of `names`, in PEM."""

    def openssl(*words: str | Path) -> None:
        subprocess.run(["openssl", *words], cwd=folder, check=True, capture_output=True)

    openssl(
        *("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=workshop authority"),
        *("-keyout", "root.key", "-out", "root.pem"),
        *("-addext", "keyUsage=critical,keyCertSign,cRLSign"),
    )
    for name in names:
        (folder / f"{name}.ext").write_text("subjectAltName=IP:127.0.0.1\n")
        openssl(
            "req",
            "-newkey",
            "rsa:2048",
            "-nodes",
            "-subj",
            f"/CN={name}",
            "-keyout",
            f"{name}.key",
            "-out",
            f"{name}.csr",
        )
        openssl(
            *("x509", "-req", "-in", f"{name}.csr", "-CA", "root.pem", "-CAkey", "root.key", "-days", "2"),
            *("-extfile", f"{name}.ext", "-out", f"{name}.pem"),
        )


@pytest.fixture
def encrypted(mosquitto: Start, tmp_path: Path) -> Any:
    """A broker that wants encryption and a certificate from each client."""
    certified(tmp_path, "broker", "watch")
    return mosquitto(
        f"cafile {tmp_path}/root.pem",
        f"certfile {tmp_path}/broker.pem",
        f"keyfile {tmp_path}/broker.key",
        "require_certificate true",
    )


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
async def test_with_certificates_on_both_sides_it_works(
    protocol: str, encrypted: Any, tmp_path: Path, until: Until
) -> None:
    tls = Tls(tmp_path / "root.pem", tmp_path / "watch.pem", tmp_path / "watch.key")
    async with running(options_for(encrypted.port, protocol=protocol, tls=tls)) as (ours, _):
        ours.publish("emberward/shelf/machine/doorway-1/event", b"x" * 60_000, False, Kind.ALARM)
        await until("the message", lambda: ours.counts["said"] >= 2)


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # the library's half-open socket, let go
@pytest.mark.parametrize(
    ("files", "words"),
    [
        ((None, "watch.pem", "watch.key"), "shows a certificate that is not trusted here"),
        (("root.pem", None, None), "certificate"),
        (("root.pem", "watch.pem", "broker.key"), "do not fit together"),
        (("root.pem", "gone.pem", None), "gone.pem cannot be read: No such file or directory"),
        (("root.key", "watch.pem", "watch.key"), "root.key holds no certificate in PEM"),
        (None, "certificate"),
    ],
    ids=["authority unknown", "no certificate of ours", "wrong key", "file gone", "no certificate", "not encrypted"],
)
async def test_each_fault_of_the_certificates_is_told_in_a_sentence(
    files: tuple[str | None, ...] | None, words: str, encrypted: Any, tmp_path: Path, until: Until
) -> None:
    tls = None if files is None else Tls(*(None if name is None else tmp_path / name for name in files))
    async with running(options_for(encrypted.port, tls=tls)) as (ours, told):
        await until("a sentence", lambda: told.said)
        assert not ours.connected
    assert words in told.said[0]
