"""What is remembered of one machine between two events: small immutable parts, plain values only.

They are named tuples, since thousands of lines a second pass through them. They are stored by position: a new field goes
to the end of its part, with a default. Every time is `elapsed` (s) unless it says otherwise.
"""

from typing import NamedTuple

from watchdog.core.commands import Sent
from watchdog.core.moment import Moment
from watchdog.core.observations import Command, Fault
from watchdog.core.snapshot import Execution, Heater, Hotend, Job, Link, Source


class Owed(NamedTuple):
    """A line that was sent and is not acknowledged yet."""

    at: float
    command: Command
    fresh: bool
    """False: the same numbered line had been sent before"""


class Beat(NamedTuple):
    """How long the machine usually keeps quiet."""

    since: float
    """start of the present minute of counting"""
    longest: float = 0.0
    """s: longest gap between two lines in it"""
    past: tuple[float, ...] = ()
    """the same of the last ten such minutes, newest last"""
    usual: float | None = None
    """s: the second longest of `past`, so that one odd gap teaches nothing"""
    owing: float | None = None
    """s: longest silence over an unanswered line in the present minute; None when nothing was owed in it"""


class Trend(NamedTuple):
    """Whether a heater's reading climbs."""

    start: float | None = None  # °C
    since: float = 0.0
    rising: bool = False


class Sight(NamedTuple):
    """What the watch can see at all."""

    link: Link
    link_since: float
    since: float
    """when the watch last began to see"""
    known: bool = False
    """since then something told whether a job runs"""
    doubt: bool = False
    """a job ran when the sight was lost: whether it still does has not been told"""


class Card(NamedTuple):
    """The card reader as last told."""

    byte: int | None = None
    size: int | None = None
    told_at: float | None = None
    step: int = 0
    """bytes of the last move"""
    closed: bool = False
    """no file was open when last told, or one was opened since: a byte above 0 then means a start"""
    idles: int = 0
    """how many times in a row the machine said that it executes no file"""
    inner: bool = False
    """a file called by the job's own file is being read"""
    go: bool = False
    """a start was commanded before a file was known"""
    before: int | None = None
    """the place before `byte`"""
    odd: tuple[int, int] | None = None
    """place and size of the last report, where it fits nothing told before: noise, until the next one bears it out"""


class Chosen(NamedTuple):
    """A file that was chosen and has not started."""

    at: float
    name: str | None
    size: int | None


class Progress(NamedTuple):
    """The fast-moving part of a job."""

    done: int | None = None  # bytes or lines
    moved_at: float | None = None
    heating: float = 0.0  # s


class Hold(NamedTuple):
    """The job is held by command."""

    since: float
    by: str
    """'word' or 'target' (the machine shows a held target)"""
    settled: bool = False
    """the counter has been read once since: from now on its moving means that the job goes on"""


class Wait(NamedTuple):
    """The machine waits for somebody."""

    since: float
    planned: bool
    by: str
    """'busy', 'words', 'prompt', 'filament' or 'command'"""
    told_at: float
    settled: bool = False
    """as in `Hold`"""


class Stream(NamedTuple):
    """The lines that another program sends."""

    top: int | None = None
    """highest line number"""
    numbered: int = 0
    last_at: float | None = None
    """when the last line that may belong to a job was sent"""
    first: Moment | None = None
    """the line that may have begun a job"""
    lines: int = 0
    """lines since then, itself included"""
    taken: int = 0
    """how many of them were acknowledged"""
    moved: bool = False
    """homing or a move was among them"""
    heated: bool = False
    """heat was among them"""
    nozzle_off: bool = False
    bed_off: bool = False
    motors_off: bool = False
    heating: float = 0.0
    """s of heating up since `first`"""
    dwells: tuple[float, float] | None = None
    """when the wait of a told length that was last sent began, and when it will be over"""


class Feed(NamedTuple):
    """Where the axes are and how much filament was fed, as far as the wire tells."""

    x: float | None = None
    y: float | None = None
    z: float | None = None
    e: float | None = None
    absolute: bool = True
    e_absolute: bool = True
    debt: float = 0.0
    """mm drawn back and not yet given again"""
    in_place: float = 0.0
    flowed: float = 0.0
    flow_at: float | None = None


class Restart(NamedTuple):
    """The last start-up banner."""

    at: float | None = None
    cause: str | None = None
    broke: bool = False


class Axes(NamedTuple):
    """The state as last told to the record."""

    execution: Execution
    since: float
    hotend: Hotend
    rest: Execution = Execution.READY
    """what the machine does while no job is active: ready, complete, stopped or faulted"""


class Marks(NamedTuple):
    """Odd things that happened to the present job."""

    byte_fell_at: float | None = None
    card_gone_at: float | None = None
    slept_at: float | None = None
    """when the computer that streams it last woke"""
    slept: float = 0.0
    """s that the stream stood still until then"""
    asked: int | None = None
    """the line that the machine last asked for again"""


class Memory(NamedTuple):
    """Everything that is remembered of one machine."""

    source: Source
    sight: Sight
    axes: Axes
    beat: Beat
    heard: float | None = None
    paid_at: float | None = None
    """when a keep-alive or a temperature report last showed that the machine lives"""
    owed: tuple[Owed, ...] = ()
    nozzle: Heater = Heater()
    bed: Heater = Heater()
    nozzle_trend: Trend = Trend()
    bed_trend: Trend = Trend()
    warming_at: float | None = None
    """when the machine last said that it waits for heat"""
    sensor_bad: bool = False
    """the machine itself calls the nozzle's sensor defective"""
    hot_before: bool = False
    """there was heat or a job when the sight was lost, and no reading has come since"""
    job: Job | None = None
    progress: Progress = Progress()
    hold: Hold | None = None
    wait: Wait | None = None
    card: Card = Card()
    chosen: Chosen | None = None
    stream: Stream = Stream()
    feed: Feed = Feed()
    marks: Marks = Marks()
    faults: tuple[tuple[float, Fault], ...] = ()
    restart: Restart = Restart()
    resends: int = 0
    ticked_at: float | None = None
    sent: Sent = Sent()
    """what a streamed job has sent, by content"""


def begin(at: Moment, source: Source) -> Memory:
    """A machine of which nothing is known yet."""
    now = at.elapsed
    return Memory(
        source=source,
        sight=Sight(Link.UNAVAILABLE, now, now),
        axes=Axes(Execution.UNAVAILABLE, now, Hotend.UNKNOWN),
        beat=Beat(now),
    )
