"""The page that the links in messages open: where it listens, and what stands in the links."""

import re
from ipaddress import IPv6Address, ip_address
from typing import Annotated
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, Field

from watchdog.page.options import Options
from watchdog.settings.base import Model
from watchdog.settings.quantities import Seconds

MOST_ADDRESS = 100  # characters; a link adds some 100, and an SMS has 160
_LISTEN = re.compile(r"(?:\[(?P<six>[^\]]+)\]|(?P<four>[^:\[\]]+)):(?P<port>\d{1,5})\Z", re.ASCII)
_HOST = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9.-]*[A-Za-z0-9])?\.?\Z")
_PATH = re.compile(r"(?:/[A-Za-z0-9._~-]+)*/?\Z")


def _listen(written: str) -> str:
    found = _LISTEN.match(written)
    if found is None or not 0 < int(found["port"]) < 65536:
        raise ValueError(f"is no address to listen on. {_AS}")
    try:
        host = ip_address(found["six"] or found["four"])
    except ValueError:
        raise ValueError(f"is no address to listen on: names are not looked up. {_AS}") from None
    if isinstance(host, IPv6Address) != bool(found["six"]):
        raise ValueError(f"is no address to listen on. {_AS}")
    return written


def _address(written: str) -> str:
    wrong = f"is no address of a page. {_FOR_PHONES}"
    try:
        parts = urlsplit(written)
        port = parts.port
    except ValueError:
        raise ValueError(wrong) from None
    host = parts.hostname or ""
    named = _HOST.match(host) or (":" in host and _is_address(host))
    plain = written.isascii() and written.isprintable() and not re.search(r"[?#@\\\s]", written)
    if parts.scheme not in ("http", "https") or not named or port == 0 or not plain or not _PATH.match(parts.path):
        raise ValueError(wrong)
    if len(written) > MOST_ADDRESS:
        raise ValueError(
            f"has more than {MOST_ADDRESS} characters: links would fit into no message. Choose a shorter one"
        )
    if _is_address(host) and ip_address(host).is_unspecified:
        raise ValueError(f"stands for every address of this computer, and leads a phone nowhere. {_FOR_PHONES}")
    return written


def _is_address(host: str) -> bool:
    try:
        ip_address(host)
    except ValueError:
        return False
    return True


_AS = 'Write it as "0.0.0.0:8080" or "[::]:8080"'
_FOR_PHONES = 'Write what a phone opens to get here, such as "http://watch.example.org:8080"'

Listen = Annotated[str, AfterValidator(_listen)]
"""numeric address and port of this computer"""
Address = Annotated[str, AfterValidator(_address)]
"""what a phone can open"""


class PageTable(Model):
    """The page; without its table there is none, and messages hold no links."""

    listen: Listen = "0.0.0.0:8080"
    """address and port of this computer; 127.0.0.1 where a web server on it hands requests on"""
    address: Address
    """what stands before each link: scheme, host and port as a phone reaches them"""
    links_last: Seconds = Field(default=12 * 3600.0, ge=600, le=7 * 86400)
    """s for which a link can be used"""
    status: bool = False
    """whether / lists machines and alarms to everybody who can reach the page"""


def page_of(table: PageTable | None, zone: ZoneInfo) -> Options | None:
    """The page's own options; `zone` is the one that people read. None: there is no page."""
    if table is None:
        return None
    host, _, port = table.listen.rpartition(":")
    return Options(
        host=host.strip("[]"),
        port=int(port),
        address=table.address.rstrip("/"),
        zone=zone,
        links_last=table.links_last,
        status=table.status,
    )
