"""What can be set for one calendar of the school."""

from typing import Literal

from pydantic import Field, SecretStr

from watchdog.settings.base import Model
from watchdog.settings.kinds import Credential
from watchdog.settings.quantities import Place, Seconds


class Calendar(Model):
    """One iCalendar file or address, and what all of its events mean."""

    means: Literal["supervised", "lessons", "breaks", "duty", "closed", "holidays"]
    """supervised adds to [hours]; closed and holidays take from them; duty says who is first in line"""
    file: Place | None = None
    """the calendar as a file"""
    url: SecretStr | None = None
    """its address (https, http or webcal): a secret, since whoever has it can read the calendar"""
    url_file: Place | None = None
    """a file that holds the address and nothing else"""
    credential: Credential | None = None
    """name of a systemd credential that holds the address"""
    person: str | None = None
    """who is on duty in every event (means = "duty")"""
    people: dict[str, str] = Field(default_factory=dict)
    """who is meant by a word in an event's name (means = "duty"); names of [people] are known without"""
    every: Seconds = Field(default=3600.0, ge=300, le=86400)
    """s between two fetches of an address; a file is read when it has changed"""
    proxy: SecretStr | None = None
    """HTTP proxy, as http://host:port; that of [network] when left out"""
    root_certificate: Place | None = None
    """PEM file of a network's own root certificate, trusted beside the system's; that of [network] when left out"""
