"""A school year in two zones, both changes of the clocks within: who was told, and whether each promise was kept.

Judged by its outcomes (`tests/bench/year/sums.py`); the totals by person come from `python -m tests.bench.year`.
"""

import importlib
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from watchdog.core.effects import Priority
from watchdog.core.routing import Ladder, Rung
from watchdog.core.routing.pace import Pace

ROOT = Path(__file__).parents[3]
ZONES = ("Europe/Lisbon", "America/Halifax")


@pytest.fixture
def bench(monkeypatch: pytest.MonkeyPatch) -> Callable[[str], Any]:
    """The bench's modules by their names; they lie outside the package."""
    monkeypatch.syspath_prepend(str(ROOT))
    return lambda name: importlib.import_module(f"tests.bench.year.{name}")


@cache
def lived(zone: str, seed: int) -> Any:
    return importlib.import_module("tests.bench.year.running").year(zone, seed)


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("zone", ZONES)
def test_in_a_school_year_every_promise_is_kept(bench: Callable[[str], Any], zone: str, seed: int) -> None:
    """Urgent ones reach who is on duty or takes calls at once, none sits longer than its ladder says, nobody gets too much."""
    assert bench("sums").broken(lived(zone, seed)) == []


@pytest.mark.parametrize("zone", ZONES)
def test_the_year_holds_what_it_is_judged_by(bench: Callable[[str], Any], zone: str) -> None:
    """A year in which nothing happened would keep every promise."""
    year, school = lived(zone, 1), bench("school")
    urgent = [life for life in year.lives if life.priority is Priority.URGENT]
    assert len(year.lives) > 100
    assert sum(life.here.supervised for life in urgent) > 5
    assert sum(not life.here.supervised for life in urgent) >= 4
    assert any(life.here.trouble for life in year.lives) or any(life.here.trouble for life in lived(zone, 2).lives)
    unanswered = [life for life in year.lives if life.told and (life.ended or 1e12) - life.raised > 900]
    assert sum(len(life.told) > 2 for life in unanswered) > 5, "ladders were climbed to their end"
    assert year.answered > 50
    assert year.collapsed > 20
    assert year.withdrawn > 0
    assert any(message.lesson for message in year.messages)
    days = school.changes(ZoneInfo(zone))
    assert len(days) == 2
    for day in days:
        night = school.stamp(day, 0, ZoneInfo(zone))
        assert any(night <= life.raised < night + 86400 for life in urgent), "an urgent one in the night of the change"


def faults(bench: Callable[[str], Any], monkeypatch: pytest.MonkeyPatch, **changed: Any) -> list[str]:
    """What is found wrong with a year whose rules are not those that were promised."""
    running = bench("running")
    for name, worse in changed.items():
        monkeypatch.setattr(running, name, worse)
    return list(bench("sums").broken(running.year("Europe/Lisbon", 1)))


def test_a_year_in_which_the_caretaker_takes_no_calls_is_found_out(
    bench: Callable[[str], Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    plan = bench("school").PLAN
    away = tuple([person._replace(outside=person.name == "workshop-lead") for person in plan.people])
    assert any(
        "caretaker takes the calls" in fault for fault in faults(bench, monkeypatch, PLAN=replace(plan, people=away))
    )


def test_a_year_with_a_slower_ladder_is_found_out(bench: Callable[[str], Any], monkeypatch: pytest.MonkeyPatch) -> None:
    plan = bench("school").PLAN
    slow = Ladder((Rung("duty"), Rung("duty-warden", 1200), Rung("everybody", 1800, loud=True)))
    found = faults(bench, monkeypatch, PLAN=replace(plan, ladders={**plan.ladders, Priority.HIGH: slow}))
    assert any("duty-warden was not told after 600 s" in fault for fault in found)
    assert any("not everybody was told after 900 s" in fault for fault in found)


def test_a_year_without_any_pace_is_found_out(bench: Callable[[str], Any], monkeypatch: pytest.MonkeyPatch) -> None:
    found = faults(bench, monkeypatch, Pace=lambda: Pace((0.0,) * 1000))
    assert any("two messages within 60 s" in fault for fault in found)
    assert any("more than 6 messages in the hour" in fault for fault in found)


def test_a_year_with_too_many_alarms_is_over_the_budget(bench: Callable[[str], Any]) -> None:
    """Routing spares lessons what can wait; it cannot make a machine that fails ten times a week bearable."""
    found = bench("sums").broken(bench("running").year("Europe/Lisbon", 1, 10))
    assert found
    assert all("inside lessons" in fault for fault in found), "everything else is kept even then"


def test_lessons_are_spared_a_third_of_what_telling_everybody_would_bring(
    bench: Callable[[str], Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    plan, running = bench("school").PLAN, bench("running")
    shout = replace(plan, ladders=dict.fromkeys(Priority, Ladder((Rung("everybody", loud=True),))))
    monkeypatch.setattr(running, "PLAN", shout)
    everybody = sum(message.lesson for message in running.year("Europe/Lisbon", 1).messages)
    assert sum(message.lesson for message in lived("Europe/Lisbon", 1).messages) < everybody * 2 / 3


def test_the_totals_name_everybody_in_both_zones(bench: Callable[[str], Any]) -> None:
    text = bench("sums").table([lived(zone, 1) for zone in ZONES])
    lines = text.splitlines()
    assert len(lines) == 2 + 2 * 4
    for line in lines[2:]:
        assert line.count("|") == 9
    rows = bench("sums").rows([lived("Europe/Lisbon", 1)])
    assert sum(row.messages for row in rows) == len(lived("Europe/Lisbon", 1).messages)
