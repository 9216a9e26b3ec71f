"""The broker of the settings as its room's options, and what must hold between its settings."""

import errno
import os
import re
import socket
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from watchdog.broker.options import Options, Tls
from watchdog.settings.addresses import NOT_HANDED, NoAddress, open_to_others
from watchdog.settings.mqtt import MqttTable
from watchdog.settings.secrets import exactly_one, unusable

PLACES = ("password", "password_file", "credential")
_LONGEST = 65_535  # bytes: what fits into a CONNECT packet (MQTT 5.0, 1.5.6)


def mqtt_of(told: MqttTable | None) -> Options | None:
    """The broker's own options; None: there is none. Raises NoAddress when the password can no longer be read."""
    if told is None:
        return None
    return Options(
        host=told.host,
        port=told.port or (8883 if told.tls else 1883),
        base=told.base or f"emberward/{_own_name()}",
        protocol=told.protocol,
        user=told.user,
        password=None if told.user is None else password(told),
        tls=Tls(told.root_certificate, told.certificate, told.key) if told.tls else None,
        impaired_after=told.impaired_after,
    )


def password(told: MqttTable, environment: Mapping[str, str] = os.environ) -> str:
    """The password. Raises NoAddress when it is not there or cannot be read; the message holds nothing of it."""
    if told.password is not None:
        text = told.password.get_secret_value()
    elif told.password_file is not None:
        text = _content(told.password_file)
    elif (folder := environment.get("CREDENTIALS_DIRECTORY")) is not None:
        text = _content(Path(folder) / str(told.credential))
    else:
        raise NoAddress(errno.ENOENT, NOT_HANDED)
    text = text.rstrip("\r\n")
    if not text:
        raise NoAddress(errno.EINVAL, "it is empty. Write the password on one line")
    if len(text.encode()) > _LONGEST or "\n" in text:
        raise NoAddress(errno.EINVAL, "it is no password: it has more than one line, or is too long")
    return text


def of_written(written: Mapping[str, Any]) -> Iterator[tuple[list[str], str]]:
    """What is wrong with the tables as they are written: path and fault."""
    machines, table = written.get("machines"), written.get("mqtt")
    heard: dict[str, str] = {}
    for name, machine in machines.items() if isinstance(machines, Mapping) else ():
        if not isinstance(machine, Mapping):
            continue
        path = ["machines", name]
        if machine.get("source") != "mqtt":
            if "topic" in machine:
                yield [*path, "source"], 'topic is set. Write source = "mqtt", or take topic out.'
            continue
        topic = machine.get("topic")
        if topic is None:
            yield [*path, "topic"], 'source = "mqtt" needs the topic of its traffic: topic = "workshop/NAME/traffic".'
        elif str(topic) in heard:
            yield [*path, "topic"], f"machine {heard[str(topic)]} has it already. One machine, one topic."
        heard.setdefault(str(topic), name)
        if table is None:
            yield [*path, "source"], 'source = "mqtt" needs a broker. Add a table [mqtt] with its host.'
    if isinstance(table, Mapping):
        yield from _of_table(table)


def _of_table(table: Mapping[str, Any]) -> Iterator[tuple[list[str], str]]:
    given = [place for place in PLACES if place in table]
    if "user" in table and len(given) != 1:
        yield from exactly_one(table, "mqtt", PLACES, "password")
    elif given and "user" not in table:
        yield ["mqtt", given[0]], "a password needs its user. Add user, or take it out."
    if table.get("tls") is not True:
        for name in ("root_certificate", "certificate", "key"):
            if name in table:
                yield ["mqtt", name], "is of no use without encryption. Write tls = true, or take it out."
    elif "key" in table and "certificate" not in table:
        yield ["mqtt", "key"], "a key needs its certificate. Add certificate, or take it out."


def mistakes(told: MqttTable | None, *, handed: bool) -> Iterator[tuple[list[str], str]]:
    """A password that is missing, or that others on this computer can read; a key that they can.

    `handed`: False passes a credential over that only the service gets from systemd.
    """
    if told is None:
        return
    if told.key is not None and open_to_others(told.key):
        yield ["mqtt", "key"], f"others on this computer can read the key. Do: chmod 600 {told.key}"
    if told.user is not None:
        yield from unusable(told, "mqtt", PLACES, "password", lambda: password(told), handed=handed)


def _own_name() -> str:
    """This computer's name as part of a topic."""
    return re.sub(r"[^A-Za-z0-9._-]", "-", socket.gethostname()) or "watch"


def _content(file: Path) -> str:
    try:
        with file.open(encoding="utf-8") as opened:
            return opened.read(_LONGEST + 1)
    except OSError as wrong:
        raise NoAddress(wrong.errno or errno.EIO, f"{file}: {wrong.strerror or type(wrong).__name__}") from None
    except UnicodeDecodeError:
        raise NoAddress(errno.EILSEQ, f"{file}: is no text in UTF-8") from None
