"""The broker's settings: off unless asked for, the password from one place and told nowhere."""

from collections.abc import Callable
from pathlib import Path

import pytest

from watchdog.broker.options import Options, Tls
from watchdog.settings import load
from watchdog.settings.fill import watch_of
from watchdog.settings.mqtt_options import mqtt_of
from watchdog.settings.notes import notes

Written = Callable[..., Path]
Mistakes = Callable[[str], list[str]]
BROKER = '[mqtt]\nhost = "broker.example.org"\n'


def test_without_its_table_nothing_is_told_to_anybody(written: Written) -> None:
    assert mqtt_of(load(written("")).mqtt) is None


def test_a_host_is_enough_and_the_base_topic_is_this_computers(
    written: Written, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("socket.gethostname", lambda: "shelf/1+#")
    assert mqtt_of(load(written(BROKER)).mqtt) == Options("broker.example.org", "emberward/shelf-1--")


def test_everything_can_be_set(written: Written, tmp_path: Path) -> None:
    secret = written("hush-hush\n", "password")
    table = f"""{BROKER}protocol = "3.1.1"\nbase = "school/watch"\nuser = "watch"\npassword_file = "{secret}"
tls = true\nroot_certificate = "{tmp_path}/root.pem"\ncertificate = "{tmp_path}/own.pem"\nkey = "{tmp_path}/own.key"
impaired_after = "10 min"\n"""
    settings = load(written(table))
    assert mqtt_of(settings.mqtt) == Options(
        "broker.example.org",
        "school/watch",
        8883,
        "3.1.1",
        "watch",
        "hush-hush",
        Tls(tmp_path / "root.pem", tmp_path / "own.pem", tmp_path / "own.key"),
        impaired_after=600.0,
    )
    assert "hush" not in repr((settings, mqtt_of(settings.mqtt)))


def test_the_password_may_be_a_credential_of_the_service(
    written: Written, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, mistakes: Mistakes
) -> None:
    text = f'{BROKER}user = "watch"\ncredential = "broker"\n'
    assert mistakes(text)[0].startswith("mqtt.credential: the password cannot be used: no credentials were handed over")
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(tmp_path))
    written("from systemd", "broker")
    options = mqtt_of(load(written(text)).mqtt)
    assert options is not None
    assert options.password == "from systemd"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('[mqtt]\nhost = "mqtt://broker.example.org"\n', "mqtt.host: the value is no name or address of a computer."),
        ("[mqtt]\n", "mqtt.host: is missing"),
        (f'{BROKER}base = "/school/"\n', "mqtt.base: the value is no base topic"),
        (f'{BROKER}base = "school/#"\n', "mqtt.base: the value is no topic"),
        (f'{BROKER}protocol = "4"\n', "mqtt.protocol: the value is not possible here."),
        (f'{BROKER}user = "watch"\n', "mqtt: there is no password. Give exactly one of"),
        (
            f'{BROKER}user = "watch"\npassword = "a"\ncredential = "b"\n',
            "mqtt: there are password and credential. Give exactly one of",
        ),
        (f'{BROKER}password = "a"\n', "mqtt.password: a password needs its user."),
        (f"{BROKER}user = 'watch'\npassword = 12345\n", "mqtt.password: the value"),
        (f'{BROKER}key = "/k"\n', "mqtt.key: is of no use without encryption."),
        (f'{BROKER}tls = true\nkey = "/k"\n', "mqtt.key: a key needs its certificate."),
        (
            f'{BROKER}user = "watch"\npassword_file = "/nowhere/at/all"\n',
            "mqtt.password_file: the password cannot be used",
        ),
        (
            '[machines.loft-1]\nsource = "mqtt"\ntopic = "t"\n',
            'machines.loft-1.source: source = "mqtt" needs a broker.',
        ),
        (f'{BROKER}[machines.loft-1]\nsource = "mqtt"\n', 'machines.loft-1.topic: source = "mqtt" needs the topic'),
        (f'{BROKER}[machines.loft-1]\ntopic = "t"\n', "machines.loft-1.source: topic is set."),
        (f'{BROKER}[machines.loft-1]\nsource = "mqtt"\ntopic = "t/+"\n', "machines.loft-1.topic: 't/+' is no topic"),
    ],
)
def test_a_mistake_is_told_with_its_place_and_its_remedy(text: str, told: str, mistakes: Mistakes) -> None:
    found = mistakes(text)
    assert [line for line in found if line.startswith(told)], found
    assert "12345" not in " ".join(found)


def test_two_machines_do_not_share_a_topic(mistakes: Mistakes) -> None:
    """One would be judged by the other's heat."""
    machines = "".join(f'[machines.loft-{n}]\nsource = "mqtt"\ntopic = "loft"\n' for n in (1, 2))
    assert mistakes(BROKER + machines) == [
        "machines.loft-2.topic: machine loft-1 has it already. One machine, one topic."
    ]


def test_a_key_that_systemd_hands_over_is_not_taken_for_open_to_others(
    written: Written, mistakes: Mistakes, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Its list of rights makes it 0440 to look at; the service would not start."""
    folder = tmp_path / "credentials"
    folder.mkdir()
    key = folder / "broker-key"
    key.write_text("a key")
    key.chmod(0o440)
    text = f'{BROKER}tls = true\ncertificate = "/etc/emberward/watch.pem"\nkey = "{key}"\n'
    assert [line for line in mistakes(text) if line.startswith("mqtt.key: others on this computer can read the key")]
    monkeypatch.setenv("CREDENTIALS_DIRECTORY", str(folder))
    assert not [line for line in mistakes(text) if "others on this computer" in line]


def test_a_password_that_others_can_read_is_refused(written: Written, mistakes: Mistakes) -> None:
    secret = written("hush\n", "password")
    secret.chmod(0o644)
    (told,) = mistakes(f'{BROKER}user = "watch"\npassword_file = "{secret}"\n')
    assert told == f"mqtt.password_file: others on this computer can read the password. Do: chmod 600 {secret}"


def test_a_machine_watched_by_mqtt_is_never_asked_anything(written: Written) -> None:
    settings = load(written(f'{BROKER}[machines.loft-1]\nsource = "mqtt"\ntopic = "loft"\n'))
    assert watch_of("loft-1", settings.machines["loft-1"], settings).source.value == "listening"


def test_sensors_without_a_broker_are_worth_a_note(written: Written) -> None:
    text = '[machines.loft-1]\n[sensors.air]\nmachine = "loft-1"\nkind = "door"\ntopic = "t"\n'
    told = "sensors are set up, and no broker"
    assert [note for note in notes(load(written(text)), None) if note.startswith(told)]
    assert not [note for note in notes(load(written(text + BROKER)), None) if note.startswith(told)]
