"""The heartbeat of the settings as its room's options, and what must hold between its settings."""

import errno
import os
from collections.abc import Iterator, Mapping
from typing import Any

from watchdog.host import heartbeat
from watchdog.settings.addresses import NoAddress, secret
from watchdog.settings.network import NetworkTable, proxy_for
from watchdog.settings.secrets import Fault, exactly_one, unusable
from watchdog.settings.switch import HeartbeatTable

PLACES = ("url", "url_file", "credential")


def heartbeat_of(told: HeartbeatTable | None, network: NetworkTable) -> heartbeat.Options | None:
    """The heartbeat's own options; None: there is none. Raises NoAddress when its address can no longer be read."""
    if told is None:
        return None
    url = address(told)
    return heartbeat.Options(url, told.every, told.time_limit, proxy_for(network, url), network.root_certificate)


def address(told: HeartbeatTable, environment: Mapping[str, str] = os.environ) -> str:
    """The switch's address. Raises NoAddress when it is not there, cannot be read or is none."""
    text = secret(told, environment)
    if not heartbeat.is_address(text):
        raise NoAddress(errno.EINVAL, f"it is no address of a web service. {heartbeat.FORM}")
    return text


def of_written(written: Mapping[str, Any]) -> Iterator[Fault]:
    """What is wrong with the table as it is written."""
    return exactly_one(written.get("heartbeat"), "heartbeat", PLACES, "address")


def mistakes(told: HeartbeatTable | None, *, handed: bool) -> Iterator[Fault]:
    """An address that is missing or none, or that others on this computer can read; see `secrets.unusable`."""
    if told is not None:
        yield from unusable(told, "heartbeat", PLACES, "address", lambda: address(told), handed=handed)
