"""The heartbeat of the settings as its room's options, and what must hold between its settings."""

import errno
import os
from collections.abc import Iterator, Mapping
from typing import Any

from watchdog.host import heartbeat
from watchdog.settings.addresses import NoAddress, open_to_others, secret
from watchdog.settings.network import NetworkTable, proxy_for
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


def of_written(written: Mapping[str, Any]) -> Iterator[tuple[list[str], str]]:
    """What is wrong with the table as it is written: path and fault."""
    table = written.get("heartbeat")
    if not isinstance(table, Mapping):
        return
    given = [place for place in PLACES if place in table]
    if len(given) != 1:
        found = f"there are {' and '.join(given)}" if given else "there is no address"
        yield ["heartbeat"], f"{found}. Give exactly one of url, url_file and credential."


def mistakes(told: HeartbeatTable | None, *, handed: bool) -> Iterator[tuple[list[str], str]]:
    """An address that is missing or none, or that others on this computer can read.

    `handed`: False passes a credential over that only the service gets from systemd.
    """
    if told is None:
        return
    given = [place for place in PLACES if getattr(told, place) is not None]
    if len(given) != 1 or (given == ["credential"] and not handed and "CREDENTIALS_DIRECTORY" not in os.environ):
        return  # the first is told by `of_written`
    try:
        address(told)
    except NoAddress as none:
        yield ["heartbeat", given[0]], f"the address cannot be used: {none.strerror}."
    if told.url_file is not None and open_to_others(told.url_file):
        fault = f"others on this computer can read the address. Do: chmod 600 {told.url_file}"
        yield ["heartbeat", "url_file"], fault
