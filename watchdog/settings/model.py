"""What can be set, with its defaults. Each entry says its unit and its reason; the commented example shows them at work.

What must hold between several settings stands in `relations`: a model sees one value at a time, so that every mistake in a
file is found, whatever else is wrong beside it.
"""

from typing import Annotated, Literal

from pydantic import Field, SecretStr
from pydantic_settings import BaseSettings, PydanticBaseSettingsSource, SettingsConfigDict

from watchdog.core.effects import Priority
from watchdog.settings.base import Model
from watchdog.settings.calendars import Calendar
from watchdog.settings.computer import Computer
from watchdog.settings.jobs import Hours, Motion
from watchdog.settings.kinds import AlarmName, Credential, Material, Port, Socket, TimeFormat, Zone
from watchdog.settings.limits import AlarmLimits
from watchdog.settings.mail_answers import MailAnswersTable
from watchdog.settings.metrics import MetricsTable
from watchdog.settings.mqtt import MqttTable, Topic
from watchdog.settings.network import NetworkTable
from watchdog.settings.notices import Cooling, Notices
from watchdog.settings.page import PageTable
from watchdog.settings.quantities import Count, Name, Number, Place, Seconds, Unit
from watchdog.settings.review import ReviewTable, Upkeep
from watchdog.settings.routing import Routing
from watchdog.settings.sensors import Sensor
from watchdog.settings.switch import HeartbeatTable


class LogLayout(Model):
    """How another program's traffic log is laid out."""

    pattern: str
    """regular expression with the named groups `time`, `direction` and `text`"""
    time_format: TimeFormat = "iso"
    """'iso', 'epoch', 'epoch-ms', or a strptime format"""
    zone: Zone | None = None
    """zone of times that carry none; UTC when left out"""
    fold: Count = Field(default=0, ge=0, le=1)
    """which of the two hours is meant when summer time ends: 0 the first, 1 the second"""
    sent: tuple[str, ...] | None = None
    """words of the direction group that mean 'to the machine'; the usual ones when left out"""
    received: tuple[str, ...] | None = None
    """words that mean 'from the machine'"""


class Machine(Model):
    """One printer."""

    source: Literal["serial", "log", "mqtt"] = "serial"
    port: Port | None = None
    """stable name of the port, or an address that begins with socket:// or rfc2217://; found by itself when left out"""
    baud: Annotated[Count, Unit("bits a second")] = Field(default=115200, ge=1200, le=4_000_000)
    """bits a second; 115200 and 250000 cover most machines"""
    resets_on_open: bool | None = None
    """whether this controller restarts when its port is opened; unknown when left out"""
    poll: Seconds = Field(default=2.0, ge=1, le=30)
    """s between queries; one every 2 s is below 1 % of the line at 115200 bits a second"""
    log: Place | None = None
    """the traffic log to follow (source = "log"); a name with * is a series of files, the last by name being written"""
    topic: Topic | None = None
    """where its traffic is told (source = "mqtt"), as lines of this project's recording format or as bare received lines"""
    layout: LogLayout | None = None
    """how that log is laid out; this project's own recording format when left out"""
    record: bool = False
    """keep a traffic recording"""
    record_bytes: Annotated[Count, Unit("bytes")] = Field(default=16 * 1024 * 1024, ge=100_000, le=2_000_000_000)
    """bytes that a recording file holds before the next begins"""
    record_files: Count = Field(default=14, ge=1, le=1000)
    """recording files kept"""
    material: Material = "PLA"
    melts_at: Annotated[Number, Unit("°C")] | None = Field(default=None, ge=100, le=400)
    """°C from which the loaded plastic melts; from the material when left out"""
    filament_diameter: Annotated[Number, Unit("mm")] = Field(default=1.75, ge=1, le=3.5)
    """mm"""
    expected: dict[str, Annotated[Seconds, Field(ge=1, le=30 * 86400)]] = Field(default_factory=dict)
    """s that a job should take, by file name as the machine prints it"""
    learn: bool = False
    """keep what is usual for this machine, from its own healthy jobs; `emberward forget` ends what was kept"""
    limits: AlarmLimits | None = None
    """this machine's own limits; see [limits]"""
    cooling: Cooling = Field(default_factory=Cooling)
    """the one protective action; off unless asked for"""
    motion: Motion = Field(default_factory=Motion)
    """how it moves: for the planning of job files"""


class Route(Model):
    """One way to reach somebody: an address as Apprise takes it, from exactly one place."""

    url: SecretStr | None = None
    """the address itself; keep the file readable by the service alone"""
    url_file: Place | None = None
    """a file that holds the address and nothing else"""
    credential: Credential | None = None
    """name of a systemd credential that holds the address"""
    brief: bool = False
    """send the first line alone, where every further line costs (an SMS gateway)"""
    two_parts: bool = False
    """where it is brief: spend a second part on the link that the first has no room for"""


class Person(Model):
    """Somebody who is told. Named by role."""

    routes: tuple[str, ...] = Field(min_length=1)
    """routes in the order in which they are tried"""
    told: frozenset[Priority] = Field(default=frozenset(Priority), min_length=1)
    """priorities that this person is told"""
    show_files: bool = False
    """whether messages to this person may name files (file names can hold pupils' names)"""
    language: Literal["en", "pt"] = "en"
    """in which this person's messages are written, and the page that their links open"""


class AlarmChange(Model):
    """What is changed in one row of the alarm table."""

    priority: Priority | None = None
    on_delay: Seconds | None = Field(default=None, ge=0, le=3600)
    off_delay: Seconds | None = Field(default=None, ge=0, le=3600)
    remind_after: Seconds | None = Field(default=None, ge=10, le=86400)
    """s from the first message to the first reminder; later pauses grow"""
    re_alarm_after: Seconds | None = Field(default=None, ge=60, le=86400)
    """s after an acknowledgement at which it is told again, the condition still being there; never when left out"""
    spoken: bool | None = None
    """false: recorded, but nobody is told"""


class Delivery(Model):
    """How messages are sent."""

    time_limit: Seconds = Field(default=30.0, ge=2, le=300)
    """s for one attempt along one route; a silent mail server takes 15 s to give up"""
    give_up_after: Seconds = Field(default=300.0, ge=10, le=3600)
    """s without any route working until the watch counts as impaired"""
    first_pause: Seconds = Field(default=10.0, ge=1, le=300)
    """s before the second attempt; doubled from there"""
    longest_pause: Seconds = Field(default=300.0, ge=10, le=3600)
    """s between attempts at the most"""


class Places(Model):
    """Where things are kept; under systemd and by hand the defaults fit."""

    state: Place | None = None
    """folder of the incident log and the recordings"""
    socket: Socket | None = None
    """the control socket; in the folder `state` when that alone is set and systemd hands none over"""


class Settings(BaseSettings):
    """Everything that can be set."""

    model_config = SettingsConfigDict(
        extra="forbid", frozen=True, env_prefix="EMBERWARD_", env_nested_delimiter="__", protected_namespaces=()
    )

    zone: Zone | None = None
    """time zone of the messages; this computer's own when left out"""
    machines: dict[Name, Machine] = Field(default_factory=dict)
    people: dict[Name, Person] = Field(default_factory=dict)
    routes: dict[Name, Route] = Field(default_factory=dict)
    routing: Routing = Field(default_factory=Routing)
    """who is told first, and who comes next while nobody answers"""
    limits: AlarmLimits | None = None
    """limits for all machines, a table for each alarm"""
    alarms: dict[AlarmName, AlarmChange] = Field(default_factory=dict)
    delivery: Delivery = Field(default_factory=Delivery)
    network: NetworkTable = Field(default_factory=NetworkTable)
    """the way out: for messages, calendars and the heartbeat"""
    heartbeat: HeartbeatTable | None = None
    """a dead-man's switch elsewhere; none when left out"""
    mqtt: MqttTable | None = None
    """the MQTT broker; none when left out"""
    sensors: dict[Name, Sensor] = Field(default_factory=dict)
    """sensors beside the machines"""
    jobs: Place | None = None
    """folder of the job files: each is planned as it appears, so that a job's progress can be judged byte by byte"""
    hours: Hours = Field(default_factory=Hours)
    """when somebody is there who can look after a machine"""
    calendars: dict[Name, Calendar] = Field(default_factory=dict)
    """iCalendar files and addresses of the school, beside the hours"""
    filament_price: Annotated[Number, Unit("a kg")] | None = Field(default=None, ge=0, le=10_000)
    """what a kilogram of filament costs, in your own currency"""
    page: PageTable | None = None
    """the page that links in messages open; none when left out"""
    mail_answers: MailAnswersTable | None = None
    """the mailbox in which answers to mails arrive; none is read when left out"""
    notices: Notices = Field(default_factory=Notices)
    """what is told that is no alarm"""
    metrics: MetricsTable | None = None
    """numbers for a time-series store; none when left out"""
    computer: Computer = Field(default_factory=Computer)
    """the watching computer itself"""
    review: ReviewTable = Field(default_factory=ReviewTable)
    """what labels can say, and what is kept by name"""
    upkeep: dict[Name, Upkeep] = Field(default_factory=dict)
    """what has to be seen to from time to time, beside the usual"""
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
        """Only what is handed in: `origin` lays file and environment over each other, so that it knows where each is from."""
        return (init_settings,)
