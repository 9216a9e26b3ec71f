"""What can be set, with its defaults. Each entry says its unit and its reason; the commented example shows them at work."""

from pathlib import Path
from typing import Annotated, Any, Literal
from zoneinfo import ZoneInfo, available_timezones

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, SecretStr, model_validator
from pydantic_settings import BaseSettings, PydanticBaseSettingsSource, SettingsConfigDict

from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Priority
from watchdog.core.materials import MATERIALS
from watchdog.settings.limits import AlarmLimits
from watchdog.settings.problems import nearest
from watchdog.settings.quantities import Seconds, plain_name

Name = Annotated[str, AfterValidator(plain_name)]


class _Model(BaseModel):
    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)


def _zone(name: object) -> object:
    if isinstance(name, str):
        if name not in available_timezones():
            raise ValueError(f"{name!r} is no time zone known here. {nearest(name, available_timezones())}")
        return ZoneInfo(name)
    return name


def _material(name: str) -> str:
    if name.upper() not in MATERIALS:
        raise ValueError(f"{name!r} is no material known here. {nearest(name.upper(), MATERIALS)}")
    return name.upper()


def _alarm(name: str) -> str:
    if name not in TABLE:
        raise ValueError(f"there is no alarm {name!r}. {nearest(name, TABLE)}")
    return name


class LogLayout(_Model):
    """How another program's traffic log is laid out."""

    pattern: str
    """regular expression with the named groups `time`, `direction` and `text`"""
    time_format: str = "iso"
    """'iso', 'epoch', 'epoch-ms', or a strptime format"""
    zone: Annotated[ZoneInfo | None, BeforeValidator(_zone)] = None
    """zone of times that carry none; UTC when left out"""
    fold: int = Field(default=0, ge=0, le=1)
    """which of the two hours is meant when summer time ends: 0 the first, 1 the second"""
    sent: tuple[str, ...] | None = None
    """words of the direction group that mean 'to the machine'; the usual ones when left out"""
    received: tuple[str, ...] | None = None
    """words that mean 'from the machine'"""


class Machine(_Model):
    """One printer."""

    source: Literal["serial", "log"] = "serial"
    port: str | None = None
    """stable name of the port, or an address that begins with socket:// or rfc2217://; found by itself when left out"""
    baud: int = Field(default=115200, ge=1200, le=4_000_000)
    """bits a second; 115200 and 250000 cover most machines"""
    resets_on_open: bool | None = None
    """whether this controller restarts when its port is opened; unknown when left out"""
    poll: Seconds = Field(default=2.0, ge=1, le=30)
    """s between queries; one every 2 s is below 1 % of the line at 115200 bits a second"""
    log: Path | None = None
    """the traffic log to follow (source = "log")"""
    layout: LogLayout | None = None
    """how that log is laid out; this project's own recording format when left out"""
    record: bool = False
    """keep a traffic recording"""
    record_bytes: int = Field(default=16 * 1024 * 1024, ge=100_000, le=2_000_000_000)
    """bytes that a recording file holds before the next begins"""
    record_files: int = Field(default=14, ge=1, le=1000)
    """recording files kept"""
    material: Annotated[str, AfterValidator(_material)] = "PLA"
    melts_at: float | None = Field(default=None, ge=100, le=400)
    """°C from which the loaded plastic melts; from the material when left out"""
    filament_diameter: float = Field(default=1.75, ge=1, le=3.5)
    """mm"""
    expected: dict[str, Seconds] = Field(default_factory=dict)
    """what a job should take, by file name as the machine prints it"""
    limits: Any = None
    """this machine's own limits; see [limits]"""

    @model_validator(mode="after")
    def _complete(self) -> "Machine":
        if self.source == "log" and self.log is None:
            raise ValueError('source = "log" needs log = "/path/of/the/traffic.log"')
        if self.source == "serial" and self.log is not None:
            raise ValueError('log is set, so the source must be "log". Write source = "log", or take log out')
        return self


Machine.model_fields["limits"].annotation = AlarmLimits | None
Machine.model_rebuild(force=True)


class Route(_Model):
    """One way to reach somebody: an address as Apprise takes it, from exactly one place."""

    url: SecretStr | None = None
    """the address itself; keep the file readable by the service alone"""
    url_file: Path | None = None
    """a file that holds the address"""
    credential: str | None = None
    """name of a systemd credential that holds the address"""
    brief: bool = False
    """send the first line alone, where every further line costs (an SMS gateway)"""

    @model_validator(mode="after")
    def _one(self) -> "Route":
        if sum(place is not None for place in (self.url, self.url_file, self.credential)) != 1:
            raise ValueError("give exactly one of url, url_file and credential")
        return self


class Person(_Model):
    """Somebody who is told. Named by role."""

    routes: tuple[str, ...] = Field(min_length=1)
    """routes in the order in which they are tried"""
    told: frozenset[Priority] = frozenset(Priority)
    """priorities that this person is told"""
    show_files: bool = False
    """whether messages to this person may name files (file names can hold pupils' names)"""


class AlarmChange(_Model):
    """What is changed in one row of the alarm table."""

    priority: Priority | None = None
    on_delay: Seconds | None = Field(default=None, ge=0, le=3600)
    off_delay: Seconds | None = Field(default=None, ge=0, le=3600)
    remind_after: Seconds | None = Field(default=None, ge=10, le=86400)
    spoken: bool | None = None
    """false: recorded, but nobody is told"""


class Delivery(_Model):
    """How messages are sent."""

    time_limit: Seconds = Field(default=30.0, ge=2, le=300)
    """s for one attempt along one route; a silent mail server takes 15 s to give up"""
    give_up_after: Seconds = Field(default=300.0, ge=10, le=3600)
    """s without any route working until the watch counts as impaired"""
    first_pause: Seconds = Field(default=10.0, ge=1, le=300)
    """s before the second attempt; doubled from there"""
    longest_pause: Seconds = Field(default=300.0, ge=10, le=3600)
    """s between attempts at the most"""


class Places(_Model):
    """Where things are kept; under systemd and by hand the defaults fit."""

    state: Path | None = None
    """folder of the incident log and the recordings"""
    socket: Path | None = None
    """the control socket"""


class Settings(BaseSettings):
    """Everything that can be set."""

    model_config = SettingsConfigDict(
        extra="forbid", env_prefix="EMBERWARD_", env_nested_delimiter="__", nested_model_default_partial_update=True
    )

    zone: Annotated[ZoneInfo | None, BeforeValidator(_zone)] = None
    """time zone of the messages; this computer's own when left out"""
    machines: dict[Name, Machine] = Field(default_factory=dict)
    people: dict[Name, Person] = Field(default_factory=dict)
    routes: dict[Name, Route] = Field(default_factory=dict)
    limits: Any = None
    """limits for all machines, a table for each alarm"""
    alarms: dict[Annotated[str, AfterValidator(_alarm)], AlarmChange] = Field(default_factory=dict)
    delivery: Delivery = Field(default_factory=Delivery)
    places: Places = Field(default_factory=Places)

    @classmethod
    def settings_customise_sources(
        cls,
        settings_cls: type[BaseSettings],
        init_settings: PydanticBaseSettingsSource,
        env_settings: PydanticBaseSettingsSource,
        dotenv_settings: PydanticBaseSettingsSource,
        file_secret_settings: PydanticBaseSettingsSource,
    ) -> tuple[PydanticBaseSettingsSource, ...]:
        """The environment wins over the file (which arrives as init values)."""
        return env_settings, init_settings


Settings.model_fields["limits"].annotation = AlarmLimits | None
Settings.model_rebuild(force=True)
