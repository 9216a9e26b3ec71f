"""What the watch knows, in numbers, for a time-series store: the OpenMetrics exposition over HTTP. Off unless asked for.

Names, units and types follow OpenMetrics 1.0 (units in the name, counters end in `_total`, states as StateSets); the text is
made by prometheus-client. No label holds a person's name, a route's address or a file's name.

The endpoint answers in a thread of the library's; it only ever reads one finished `Facts`, which the service puts in its
place whole, so a slow or hostile reader cannot hold the watch up.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from threading import Thread
from typing import NamedTuple
from wsgiref.simple_server import WSGIServer

from prometheus_client import CollectorRegistry, start_http_server
from prometheus_client.core import (
    CounterMetricFamily,
    GaugeMetricFamily,
    HistogramMetricFamily,
    InfoMetricFamily,
    StateSetMetricFamily,
)
from prometheus_client.metrics_core import Metric
from prometheus_client.registry import Collector

from watchdog.core.conditions import FAULT, NORMAL, UNAVAILABLE, WARNING
from watchdog.core.effects import Priority
from watchdog.core.snapshot import Execution, Heater, Hotend, Link, Snapshot
from watchdog.host.latency import BOUNDS, Latency

LEVELS = (NORMAL, WARNING, FAULT, UNAVAILABLE)


class Alarming(NamedTuple):
    """One alarm that stands."""

    name: str
    priority: Priority
    acknowledged: bool


@dataclass(frozen=True, slots=True)
class OfMachine:
    """One machine's numbers."""

    seen: Snapshot
    alarms: tuple[Alarming, ...]
    lines: int
    unparsed: int
    damaged: int
    waiting: int
    """lines heard and not worked on yet"""
    dropped: int
    answers: Latency
    """from a query to the next line of the machine"""
    conditions: Mapping[str, str] = field(default_factory=dict)
    """subject to level"""
    sensors_heard: Mapping[str, float] = field(default_factory=dict)
    """s since each sensor's last word; none for one that was never heard"""


@dataclass(frozen=True, slots=True)
class Facts:
    """Everything that is told at one moment."""

    version: str
    started: float
    """stamp"""
    machines: Mapping[str, OfMachine]
    own_alarms: tuple[Alarming, ...] = ()
    attempts: Mapping[str, int] = field(default_factory=dict)
    """attempts to deliver since the start, by outcome"""
    delivery: Latency = field(default_factory=Latency)
    """from the commit of a message to its acceptance by a server"""
    outbox: int = 0
    """messages that wait for delivery"""
    oldest_waiting: float | None = None
    """s that the oldest of them has waited"""
    unwritten: int = 0
    """steps that wait to be written into the record"""
    refused: Mapping[str, int] = field(default_factory=dict)
    """what was refused at the doors since the start: 'broker', 'page'"""
    unsaid: int | None = None
    """messages that wait for the broker; None without one"""
    running: float = 0.0
    """s since the start, by a clock that nobody sets"""


class Metrics(Collector):
    """The endpoint. `facts` is asked at each scrape and must give one finished value without waiting."""

    def __init__(self, facts: Callable[[], Facts]) -> None:
        self._facts = facts
        self.registry = CollectorRegistry(auto_describe=False)
        self.registry.register(self)
        self._server: tuple[WSGIServer, Thread] | None = None

    def open(self, port: int, address: str = "127.0.0.1") -> int:
        """Answer at `address`:`port` (0: any free one) from now on; the port. Raises OSError when it cannot be had."""
        server, thread = start_http_server(port, address, self.registry)
        self._server = (server, thread)
        return int(server.server_port)

    def close(self) -> None:
        """Stop answering."""
        if self._server is not None:
            server, thread = self._server
            server.shutdown()
            server.server_close()
            thread.join()
            self._server = None

    def describe(self) -> Iterable[Metric]:
        """Nothing is known of the families before the first scrape."""
        return ()

    def collect(self) -> Iterator[Metric]:
        """All families, from one value."""
        facts = self._facts()
        yield InfoMetricFamily("emberward_build", "The version that runs", {"version": facts.version})
        yield GaugeMetricFamily("emberward_start_time_seconds", "When it was started", facts.started)
        yield GaugeMetricFamily("emberward_uptime_seconds", "How long it has run", facts.running)
        yield from _machines(facts.machines)
        yield _conditions(facts.machines)
        yield from _sensors(facts.machines)
        yield _alarms(facts)
        yield from _delivery(facts)


def _machines(machines: Mapping[str, OfMachine]) -> Iterator[Metric]:
    now = GaugeMetricFamily("emberward_temperature_celsius", "As last told", labels=["machine", "heater"])
    target = GaugeMetricFamily("emberward_target_celsius", "0 is off", labels=["machine", "heater"])
    for name, one in machines.items():
        for heater, told in (("nozzle", one.seen.nozzle), ("bed", one.seen.bed)):
            _heat(now, target, name, heater, told)
    yield now
    yield target
    for axis, states in (("link", Link), ("execution", Execution), ("hotend", Hotend)):
        family = StateSetMetricFamily(f"emberward_{axis}", f"The machine's {axis}", labels=["machine"])
        for name, one in machines.items():
            present = getattr(one.seen, axis)
            family.add_metric([name], {state.value: state is present for state in states})
        yield family
    counts: tuple[tuple[str, str, Callable[[OfMachine], int]], ...] = (
        ("emberward_lines", "Lines of traffic", lambda one: one.lines),
        ("emberward_lines_unparsed", "Lines that meant nothing", lambda one: one.unparsed),
        ("emberward_lines_damaged", "Lines that hold bytes that are no text", lambda one: one.damaged),
        ("emberward_lines_dropped", "Lines let go because too many waited", lambda one: one.dropped),
    )
    for title, words, count in counts:
        counter = CounterMetricFamily(title, words, labels=["machine"])
        for name, one in machines.items():
            counter.add_metric([name], count(one))
        yield counter
    waiting = GaugeMetricFamily("emberward_lines_waiting", "Lines not worked on yet", labels=["machine"])
    answers = HistogramMetricFamily("emberward_answer_seconds", "From a query to an answer", labels=["machine"])
    for name, one in machines.items():
        waiting.add_metric([name], one.waiting)
        answers.add_metric([name], _buckets(one.answers), one.answers.total)
    yield waiting
    yield answers


def _conditions(machines: Mapping[str, OfMachine]) -> Metric:
    family = StateSetMetricFamily("emberward_condition", "Of each subject", labels=["machine", "subject"])
    for name, one in machines.items():
        for subject, level in one.conditions.items():
            family.add_metric([name, subject], {each: each == level for each in LEVELS})
    return family


def _sensors(machines: Mapping[str, OfMachine]) -> Iterator[Metric]:
    """A stale sensor has no value, and is told as stale."""
    named = ["machine", "sensor", "measures"]
    value = GaugeMetricFamily("emberward_sensor", "As last told, in its own unit", labels=[*named, "measured_in"])
    stale = GaugeMetricFamily("emberward_sensor_stale", "1: quiet for too long", labels=named)
    heard = GaugeMetricFamily("emberward_sensor_heard_seconds", "Since its last word", labels=named)
    for name, one in machines.items():
        for told in one.seen.sensors:
            labels = [name, told.name, told.kind.value]
            if told.value is not None:
                value.add_metric([*labels, told.unit], told.value)
            stale.add_metric(labels, float(told.stale))
            if told.name in one.sensors_heard:
                heard.add_metric(labels, one.sensors_heard[told.name])
    yield value
    yield stale
    yield heard


def _heat(now: GaugeMetricFamily, target: GaugeMetricFamily, name: str, heater: str, told: Heater) -> None:
    """A temperature that is not known has no sample: never 0, and never the last one dressed as new."""
    if told.now is not None:
        now.add_metric([name, heater], told.now)
    if told.target is not None:
        target.add_metric([name, heater], told.target)


def _alarms(facts: Facts) -> Metric:
    family = GaugeMetricFamily(
        "emberward_alarm",
        "1 for an alarm that stands",
        labels=["machine", "alarm", "priority", "acknowledged"],
    )
    everything = [*((name, one.alarms) for name, one in facts.machines.items()), ("watch", facts.own_alarms)]
    for machine, alarms in everything:
        for alarm in alarms:
            taken = "true" if alarm.acknowledged else "false"
            family.add_metric([machine, alarm.name, alarm.priority.value, taken], 1)
    return family


def _delivery(facts: Facts) -> Iterator[Metric]:
    attempts = CounterMetricFamily("emberward_attempts", "Attempts to deliver a message", labels=["outcome"])
    for outcome, count in sorted(facts.attempts.items()):
        attempts.add_metric([outcome], count)
    yield attempts
    took = HistogramMetricFamily("emberward_delivery_seconds", "From the record to a server that took it")
    took.add_metric([], _buckets(facts.delivery), facts.delivery.total)
    yield took
    yield GaugeMetricFamily("emberward_outbox", "Messages that wait for delivery", facts.outbox)
    oldest = GaugeMetricFamily("emberward_outbox_oldest_seconds", "How long the oldest of them has waited")
    if facts.oldest_waiting is not None:
        oldest.add_metric([], facts.oldest_waiting)
    yield oldest
    yield GaugeMetricFamily("emberward_record_waiting", "Steps that the record has not taken yet", facts.unwritten)
    unsaid = GaugeMetricFamily("emberward_broker_waiting", "Messages that wait for the network's broker")
    if facts.unsaid is not None:
        unsaid.add_metric([], facts.unsaid)
    yield unsaid
    refused = CounterMetricFamily("emberward_refused", "Requests refused at a door", labels=["door"])
    for door, count in sorted(facts.refused.items()):
        refused.add_metric([door], count)
    yield refused


def _buckets(latency: Latency) -> list[tuple[str, float]]:
    """Cumulative, as the format wants them."""
    counted, running = [], 0
    for bound, count in zip((*map(str, BOUNDS), "+Inf"), latency.buckets, strict=True):
        running += count
        counted.append((bound, float(running)))
    return counted
