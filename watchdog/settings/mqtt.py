"""The MQTT broker of the network: how it is reached, and under which topic this service speaks."""

import re
from ipaddress import ip_address
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, SecretStr

from watchdog.settings.base import Model
from watchdog.settings.kinds import Credential
from watchdog.settings.quantities import Count, Place, Seconds

_LABEL = re.compile(r"(?!-)[A-Za-z0-9_-]{1,63}(?<!-)\Z", re.ASCII)


def _host(written: str) -> str:
    try:
        return str(ip_address(written))
    except ValueError:
        labels = written.removesuffix(".").split(".")
    if len(written) > 253 or not all(_LABEL.match(label) for label in labels):
        raise ValueError(
            'is no name or address of a computer. Write it as "broker.example.org", without mqtt:// or port'
        )
    return written


def plain_topic(written: str) -> str:
    """A topic that names one place. Raises ValueError."""
    if not written.strip() or len(written.encode()) > 512 or any(letter in written for letter in "+#\0"):
        raise ValueError("is no topic: it names one place, without + and #")
    return written


def _base(written: str) -> str:
    if written.strip("/") != written or written.startswith("$") or len(written.encode()) > 200:
        raise ValueError("is no base topic: it begins and ends with a name, is not long, and has no $ in front")
    return plain_topic(written)


Topic = Annotated[str, AfterValidator(plain_topic)]
"""a topic without wildcards"""


class MqttTable(Model):
    """The broker; without its table nothing is said there and nothing heard."""

    host: Annotated[str, AfterValidator(_host)]
    """its name or address"""
    port: Count | None = Field(default=None, ge=1, le=65535)
    """8883 with `tls`, else 1883, when left out"""
    protocol: Literal["5", "3.1.1"] = "5"
    """which MQTT it speaks"""
    base: Annotated[str, AfterValidator(_base)] | None = None
    """the topic below which this service speaks, one for each service; emberward/HOST-NAME when left out"""
    user: str | None = Field(default=None, min_length=1, max_length=200)
    """the account at the broker; its password comes from exactly one of the next three"""
    password: SecretStr | None = None
    """the password itself; keep the file readable by the service alone"""
    password_file: Place | None = None
    """a file that holds the password and nothing else"""
    credential: Credential | None = None
    """name of a systemd credential that holds the password"""
    tls: bool = False
    """encrypted"""
    root_certificate: Place | None = None
    """PEM file of the authority that signed the broker's certificate; the system's own when left out"""
    certificate: Place | None = None
    """PEM file of our own certificate, where the broker wants one"""
    key: Place | None = None
    """PEM file of its key; in the certificate's file when left out"""
    impaired_after: Seconds = Field(default=300.0, ge=30, le=86_400)
    """s without the broker until the watch counts as impaired; a restart or an update takes less"""
