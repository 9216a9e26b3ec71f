"""What a link's page says of a machine, in the language of whoever it was sent to."""

import asyncio
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from watchdog.alerts.languages import CODES, language
from watchdog.clock import Clock
from watchdog.core.effects import Effect, Noted
from watchdog.core.events import Line, Tick
from watchdog.core.machine import Limits
from watchdog.core.moment import Moment
from watchdog.core.routing import Recipient, usual
from watchdog.core.snapshot import Heater, Job, Link, Origin, Snapshot, Source
from watchdog.core.step import Watch, World, begin, look, step
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.page.deeds import Answer
from watchdog.page.links import Claim, Purpose
from watchdog.service.beside import Wishes
from watchdog.service.deeds import LinkDeeds, state_words
from watchdog.service.keeping import Keeping
from watchdog.service.watching import Ties, Watching

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


class HandClock(Clock):
    """Stands still."""

    def now(self) -> Moment:
        return NOW


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


def building() -> World:
    """A card job that has run for a minute until NOW."""
    begun = NOW.elapsed - 60
    world = begin(WATCH, Moment(begun, NOW.stamp - 60))
    for second in range(60):
        at = Moment(begun + second, NOW.stamp - 60 + second)
        for text in (f"SD printing byte {10 + second}/1000", "ok T:205.0 /205.0 B:60.0 /60.0 @:40 B@:0"):
            world, _ = step(WATCH, world, Line(at, Direction.RECEIVED, text, read(Direction.RECEIVED, text)))
        world, _ = step(WATCH, world, Tick(at))
    return world


async def test_who_allows_a_job_to_outlast_the_hours_is_recorded_with_the_way_and_shown(tmp_path: Path) -> None:
    clock = HandClock()
    keeping = Keeping(tmp_path / "incidents.db", clock, lambda why: None)
    await keeping.open()
    said: list[Effect] = []
    ties = Ties(clock, keeping, lambda: None, lambda name, effects: said.extend(effects))
    worker = Watching(WATCH, building(), ties, Wishes(usual((Recipient("workshop-lead"),))))
    deeds = LinkDeeds({"doorway-1": worker}, keeping, clock, "watch", {"workshop-lead": "pt"})
    claim = Claim(Purpose.ALLOW_OUTLAST, "doorway-1", "", 1, "workshop-lead", round(clock.now().stamp) + 60)
    async with asyncio.TaskGroup() as tasks:
        running = tasks.create_task(worker.run())
        outcome = await deeds.act(claim, None)
        running.cancel()
    assert outcome.done
    assert outcome.situation.answered == Answer("workshop-lead", clock.now().stamp, language("pt").say("way.link"))
    (noted,) = [effect.facts for effect in said if isinstance(effect, Noted) and effect.kind == "allowed-to-outlast"]
    assert noted == {"job": 1, "by": "workshop-lead", "stays": "workshop-lead", "how": "link"}
    await keeping.close()


@pytest.mark.parametrize("code", CODES)
def test_every_way_of_answering_has_its_words(code: str) -> None:
    for how in ("link", "command", "mqtt", "mail"):
        assert language(code).says(f"way.{how}")
