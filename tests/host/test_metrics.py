"""The numbers for a time-series store: read over HTTP by the library's own OpenMetrics parser."""

import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import replace
from enum import StrEnum
from typing import Any

import pytest
from prometheus_client.metrics_core import Metric
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from tests.snapshots import plain
from watchdog.core.effects import Priority
from watchdog.core.snapshot import Execution, Heater, Hotend, Link, Sensed, SensorKind
from watchdog.host.latency import BOUNDS, Latency
from watchdog.host.metrics import Alarming, Facts, Metrics, OfMachine

SEEN = plain(
    execution=Execution.BUILDING,
    hotend=Hotend.HOT,
    nozzle=Heater(now=205.1, target=205.0),
    bed=Heater(),
    active=True,
    heat_when_lost=True,
)


def took(*seconds: float) -> Latency:
    counted = Latency()
    for each in seconds:
        counted.add(each)
    return counted


DOORWAY = OfMachine(
    replace(
        SEEN,
        sensors=(
            Sensed("doorway-1-air", SensorKind.ROOM_TEMPERATURE, 21.5, 990.0, False, unit="°C"),
            Sensed("doorway-1-door", SensorKind.DOOR, None, None, True),
        ),
    ),
    (Alarming("job-stalled", Priority.HIGH, False),),
    12345,
    3,
    1,
    2,
    0,
    took(0.004, 0.03, 0.3, 400),
    {"heat": "normal", "surroundings": "unavailable"},
    {"doorway-1-air": 10.0, "doorway-1-door": 700.0},
)
FACTS = Facts(
    "0.1.0",
    900.0,
    {"doorway-1": DOORWAY},
    (Alarming("watch-impaired", Priority.HIGH, True),),
    {"delivered": 7, "failed": 2},
    took(0.6, 1.2),
    1,
    42.0,
    0,
    {"page": 4},
)


@pytest.fixture
def scraped() -> Iterator[Callable[[Facts], dict[str, Metric]]]:
    now: list[Facts] = [FACTS]
    metrics = Metrics(lambda: now[0])
    port = metrics.open(0)

    def scrape(facts: Facts) -> dict[str, Metric]:
        now[0] = facts
        wanted = {"Accept": "application/openmetrics-text; version=1.0.0"}
        request = urllib.request.Request(f"http://127.0.0.1:{port}/metrics", headers=wanted)
        with urllib.request.urlopen(request, timeout=10) as answer:
            assert answer.headers["Content-Type"].startswith("application/openmetrics-text")
            text = answer.read().decode()
        return {family.name: family for family in text_string_to_metric_families(text)}  # type: ignore[no-untyped-call]

    yield scrape
    metrics.close()


Scrape = Callable[[Facts], dict[str, Metric]]


def values(family: Metric, **labels: str) -> dict[str, float]:
    return {sample.name: sample.value for sample in family.samples if labels.items() <= dict(sample.labels).items()}


def test_the_librarys_own_parser_reads_everything_that_is_told(scraped: Scrape) -> None:
    families = scraped(FACTS)
    assert values(families["emberward_temperature_celsius"], machine="doorway-1", heater="nozzle") == {
        "emberward_temperature_celsius": 205.1
    }
    assert values(families["emberward_lines"]) == {"emberward_lines_total": 12345}
    assert values(families["emberward_attempts"], outcome="failed") == {"emberward_attempts_total": 2}
    assert values(families["emberward_refused"], door="page") == {"emberward_refused_total": 4}
    assert values(families["emberward_build"], version="0.1.0") == {"emberward_build_info": 1}
    assert values(families["emberward_outbox_oldest_seconds"]) == {"emberward_outbox_oldest_seconds": 42}


def test_a_temperature_that_is_not_known_is_left_out_rather_than_0(scraped: Scrape) -> None:
    """A cold bed on the graph of a machine that says nothing would be a lie."""
    family = scraped(FACTS)["emberward_temperature_celsius"]
    assert {sample.labels["heater"] for sample in family.samples} == {"nozzle"}


@pytest.mark.parametrize(("axis", "states"), [("link", Link), ("execution", Execution), ("hotend", Hotend)])
def test_exactly_one_state_of_an_axis_is_set(scraped: Scrape, axis: str, states: type[StrEnum]) -> None:
    samples = scraped(FACTS)[f"emberward_{axis}"].samples
    lit = [sample.labels[f"emberward_{axis}"] for sample in samples if sample.value == 1]
    assert lit == [getattr(SEEN, axis).value]
    assert len(samples) == len(states)


def test_each_subject_has_one_level(scraped: Scrape) -> None:
    samples = scraped(FACTS)["emberward_condition"].samples
    lit = {sample.labels["subject"]: sample.labels["emberward_condition"] for sample in samples if sample.value == 1}
    assert lit == {"heat": "normal", "surroundings": "unavailable"}
    assert len(samples) == 2 * 4


def test_a_stale_sensor_has_no_value_and_says_since_when(scraped: Scrape) -> None:
    """On a graph its last value would go on as if somebody had measured it."""
    families = scraped(FACTS)
    told = {sample.labels["sensor"]: sample.value for sample in families["emberward_sensor"].samples}
    assert told == {"doorway-1-air": 21.5}
    stale = {sample.labels["sensor"]: sample.value for sample in families["emberward_sensor_stale"].samples}
    assert stale == {"doorway-1-air": 0, "doorway-1-door": 1}
    heard = families["emberward_sensor_heard_seconds"]
    assert list(values(heard, sensor="doorway-1-door").values()) == [700]


@pytest.mark.parametrize(("unsaid", "told"), [(None, {}), (7, {"emberward_broker_waiting": 7})])
def test_what_waits_for_the_broker_is_told_where_there_is_one(
    scraped: Scrape, unsaid: int | None, told: dict[str, float]
) -> None:
    assert values(scraped(replace(FACTS, unsaid=unsaid))["emberward_broker_waiting"]) == told


def test_alarms_are_told_by_name_and_priority_also_the_watchs_own(scraped: Scrape) -> None:
    told = {
        (sample.labels["machine"], sample.labels["alarm"], sample.labels["priority"], sample.labels["acknowledged"])
        for sample in scraped(FACTS)["emberward_alarm"].samples
    }
    assert told == {("doorway-1", "job-stalled", "high", "false"), ("watch", "watch-impaired", "high", "true")}
    assert not scraped(replace(FACTS, own_alarms=(), machines={}))["emberward_alarm"].samples


def test_the_latencies_add_up(scraped: Scrape) -> None:
    told = {
        sample.labels.get("le", sample.name): sample.value
        for sample in scraped(FACTS)["emberward_answer_seconds"].samples
    }
    assert told["0.05"] == 2
    assert told["0.5"] == 3
    assert told[str(BOUNDS[-1])] == 3
    assert told["+Inf"] == told["emberward_answer_seconds_count"] == 4
    assert told["emberward_answer_seconds_sum"] == pytest.approx(400.334)


def test_nothing_names_a_person_or_a_file(scraped: Scrape) -> None:
    allowed = {"machine", "heater", "alarm", "priority", "acknowledged", "outcome", "door", "version", "le"}
    allowed |= {f"emberward_{axis}" for axis in ("link", "execution", "hotend", "condition")}
    allowed |= {"subject", "sensor", "measures", "measured_in"}
    labels: set[Any] = {label for family in scraped(FACTS).values() for one in family.samples for label in one.labels}
    assert labels <= allowed


def test_a_port_that_is_taken_is_an_error_that_the_service_can_tell(scraped: Scrape) -> None:
    first = Metrics(lambda: FACTS)
    port = first.open(0)
    with pytest.raises(OSError, match="in use"):
        Metrics(lambda: FACTS).open(port)
    first.close()
