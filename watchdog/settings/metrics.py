"""The numbers for a time-series store: where they are told."""

from ipaddress import ip_address
from typing import Annotated

from pydantic import AfterValidator, Field

from watchdog.settings.base import Model
from watchdog.settings.quantities import Count


def _own(written: str) -> str:
    try:
        found = ip_address(written)
    except ValueError:
        raise ValueError('is no address of this computer. Write "127.0.0.1" or "::1"') from None
    if not found.is_loopback:
        raise ValueError(
            'is open to the network, and these numbers ask nobody who they are. Write "127.0.0.1", and let a web server '
            "with a password hand requests on"
        )
    return written


class MetricsTable(Model):
    """OpenMetrics over HTTP; without its table nothing is told."""

    port: Count = Field(default=9464, ge=1024, le=65535)
    """TCP port"""
    address: Annotated[str, AfterValidator(_own)] = "127.0.0.1"
    """address of this computer itself"""
