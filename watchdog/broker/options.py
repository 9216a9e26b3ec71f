"""Which broker, how it is reached, and how much may wait for it."""

import hashlib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal


@dataclass(frozen=True, slots=True)
class Tls:
    """Encryption, and who each side must prove to be. Files are read at each connection: certificates are renewed."""

    root_certificate: Path | None = None
    """PEM file of the authority that signed the broker's certificate; None: those that this computer trusts"""
    certificate: Path | None = None
    """PEM file of our own certificate, where the broker wants one"""
    key: Path | None = None
    """PEM file of its key; None where the certificate's file holds it too"""


@dataclass(frozen=True, slots=True)
class Options:
    """One broker."""

    host: str
    base: str
    """base topic, such as 'emberward/loft': one for each service"""
    port: int = 1883
    protocol: Literal["5", "3.1.1"] = "5"
    user: str | None = None
    password: str | None = field(default=None, repr=False)
    """secret: never logged, never part of a sentence"""
    tls: Tls | None = None
    """None: nothing is encrypted"""
    keep_alive: int = 30
    """s: a broker takes us for gone after 1.5 times as long (MQTT 5.0, 3.1.2.10); project's choice"""
    room: int = 10_000
    """messages that may wait. 100 machines with 30 topics each take 3,000 for what is retained; project's choice"""
    impaired_after: float = 300.0
    """s of trouble that count as an impaired watch: a broker, a switch or their updates restart within it; common practice,
    no source"""

    @property
    def client(self) -> str:
        """The client identifier: the same after each restart, so that a broker lets a half-dead connection of ours go, and
        sends its Last Will, before the new one says 'online'. 22 characters; every broker takes 23 (MQTT 3.1.1, 3.1.3.1)."""
        return f"emberward-{hashlib.sha256(self.base.encode()).hexdigest()[:12]}"

    @property
    def spread(self) -> float:
        """By how much this service's pauses differ from the usual, 0.75 to 1.25: a broker that returns must not meet all of a
        district in the same moment."""
        return 0.75 + int(hashlib.sha256(self.base.encode()).hexdigest()[-4:], 16) / 0xFFFF / 2

    @property
    def place(self) -> str:
        """Host and port, for sentences."""
        return f"{self.host}:{self.port}"
