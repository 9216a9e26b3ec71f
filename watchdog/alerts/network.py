"""What the school's network asks of whoever goes out: a proxy, and trust in its own root certificate.

Only the process that sends takes it on, in its own environment; the watch's own stays as it was. HTTP goes by the proxy, mail
does not: SMTP knows no HTTP proxy.
"""

import os
import ssl
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

HERE = ("localhost", "127.0.0.1", "::1")
"""never by the proxy: this computer itself"""
_LARGEST = 4 * 1024 * 1024  # bytes of a file of certificates; the whole of a system's is 0.2 MB


class BadRoot(Exception):
    """The root certificate cannot be used. The message says why."""


@dataclass(frozen=True, slots=True)
class Network:
    """The way out."""

    proxy: str | None = field(default=None, repr=False)
    """address of an HTTP proxy; may hold a password. None: as the environment says"""
    no_proxy: tuple[str, ...] = ()
    """hosts, domains and networks that are reached without it"""
    root: Path | None = None
    """PEM file of the root certificate of a network that looks into encrypted traffic, trusted beside the system's"""

    def plain(self) -> dict[str, Any]:
        """As JSON takes it."""
        return {
            "proxy": self.proxy,
            "no_proxy": list(self.no_proxy),
            "root": None if self.root is None else str(self.root),
        }


def network_of(plain: Mapping[str, Any]) -> Network:
    """What `Network.plain` made."""
    root = plain.get("root")
    return Network(plain.get("proxy"), tuple(plain.get("no_proxy", ())), None if root is None else Path(root))


def take_on(network: Network) -> None:
    """Let this process go out as `network` says: HTTP by its environment, and all of TLS with its root. Raises BadRoot."""
    if network.proxy is not None:
        for name in ("http_proxy", "https_proxy"):
            os.environ[name] = os.environ[name.upper()] = network.proxy
        os.environ["no_proxy"] = os.environ["NO_PROXY"] = ",".join((*network.no_proxy, *HERE))
    if network.root is not None:
        trusted = _in_memory(_usual() + b"\n" + _root(network.root))
        os.environ["SSL_CERT_FILE"] = os.environ["REQUESTS_CA_BUNDLE"] = trusted


def _root(file: Path) -> bytes:
    try:
        with file.open("rb") as opened:
            content = opened.read(_LARGEST)
        ssl.create_default_context().load_verify_locations(cadata=content.decode("ascii"))
    except (FileNotFoundError, PermissionError, IsADirectoryError) as wrong:
        raise BadRoot(str(wrong.strerror)) from None
    except (OSError, ValueError):  # an SSLError is an OSError
        raise BadRoot("it holds no certificate") from None
    return content


def _usual() -> bytes:
    """What is trusted anyway: by this environment, by the system, else by the library that sends."""
    for place in (os.environ.get("REQUESTS_CA_BUNDLE"), ssl.get_default_verify_paths().cafile):
        if place is not None and Path(place).is_file():
            return Path(place).read_bytes()
    import certifi  # comes with the delivery library, and is loaded where that is

    return Path(certifi.where()).read_bytes()


def _in_memory(content: bytes) -> str:
    """A file without a place on any disk, that is there for as long as this process is."""
    descriptor = os.memfd_create("trusted")
    with os.fdopen(descriptor, "wb", closefd=False) as opened:
        opened.write(content)
    return f"/proc/self/fd/{descriptor}"
