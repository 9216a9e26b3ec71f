"""What a link's page says of a machine, in the language of whoever it was sent to."""

from collections.abc import Callable
from dataclasses import replace

import pytest

from watchdog.alerts.languages import CODES, language
from watchdog.core.machine import Limits
from watchdog.core.moment import Moment
from watchdog.core.snapshot import Heater, Job, Link, Origin, Snapshot, Source
from watchdog.core.step import Watch, begin, look
from watchdog.service.deeds import state_words

Made = Callable[..., Snapshot]
WATCH = Watch("doorway-1", Source.SERIAL, Limits(), (), {})
NOW = Moment(stamp=1.77e9, elapsed=1000.0)
PLAIN = replace(
    look(WATCH, begin(WATCH, NOW), NOW),
    at=1000.0,
    link=Link.AVAILABLE,
    nozzle=Heater(now=205.2, target=205.0),
    bed=Heater(now=59.6, target=0.0),
    active=False,
)
JOB = Job(1, Origin.CARD, None, 1000, 400.0, 1.77e9)


@pytest.mark.parametrize(
    ("code", "seen", "words"),
    [
        ("en", PLAIN, "nozzle 205 °C of 205 °C, bed 60 °C, heater off, no job"),
        ("pt", PLAIN, "bico 205 °C de 205 °C, mesa 60 °C, aquecimento desligado, nenhum trabalho"),
        ("en", replace(PLAIN, job=JOB, active=True, bed=Heater()), "nozzle 205 °C of 205 °C, a job since 10 min"),
        ("en", replace(PLAIN, job=JOB, active=None, bed=Heater()), "nozzle 205 °C of 205 °C, a job is held"),
        ("en", replace(PLAIN, nozzle=Heater(now=24.0), bed=Heater(), active=None), "nozzle 24 °C"),
        ("en", replace(PLAIN, link=Link.UNAVAILABLE), None),
        ("en", replace(PLAIN, nozzle=Heater(), bed=Heater(), active=None), None),
    ],
)
def test_a_machine_is_told_in_a_few_words_or_not_at_all(code: str, seen: Snapshot, words: str | None) -> None:
    assert state_words(seen, language(code)) == words


@pytest.mark.parametrize("code", CODES)
def test_every_way_of_answering_has_its_words(code: str) -> None:
    for how in ("link", "command", "mqtt", "mail"):
        assert language(code).says(f"way.{how}")
