"""What can be set for the heartbeat: a dead-man's switch elsewhere that notices when the watch is dead."""

from pydantic import Field, SecretStr

from watchdog.settings.base import Model
from watchdog.settings.kinds import Credential
from watchdog.settings.quantities import Place, Seconds


class HeartbeatTable(Model):
    """A GET to an address for as long as the watch is well; without its table there is none."""

    url: SecretStr | None = None
    """the address: a secret, since whoever has it can pretend that the watch is alive"""
    url_file: Place | None = None
    """a file that holds the address and nothing else"""
    credential: Credential | None = None
    """name of a systemd credential that holds the address"""
    every: Seconds = Field(default=300.0, ge=30, le=86400)
    """s between two; the switch should wait for two or three of them before it tells somebody"""
    time_limit: Seconds = Field(default=20.0, ge=2, le=60)
    """s for one"""
