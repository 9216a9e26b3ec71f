"""Limits: from the detectors' declarations into the detectors, the nearer word winning."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from watchdog.core import detectors
from watchdog.core.detectors import Detector
from watchdog.core.snapshot import Source
from watchdog.settings import load
from watchdog.settings.fill import watch_of, watch_of_itself
from watchdog.settings.limits import by_alarm
from watchdog.settings.model import Machine, Settings

Written = Callable[[str], Path]
LIMITS = [(detector, limit.name) for detector in detectors.ALL for limit in by_alarm()[detector.NAME]]


def limits_of(settings: Settings, machine: str, alarm: str) -> Any:
    watch = watch_of(machine, settings.machines[machine], settings)
    (found,) = [armed.limits for armed in watch.armed if alarm == armed.detector.NAME]
    return found


@pytest.mark.parametrize(("detector", "name"), LIMITS, ids=[f"{one.NAME}.{name}" for one, name in LIMITS])
def test_every_limit_can_be_set_within_its_bounds_and_not_beyond(
    detector: Detector, name: str, written: Written, mistakes: Callable[[str], list[str]]
) -> None:
    """A limit that is declared and cannot be set would be found out in the middle of a term."""
    facts = detector.Limits.__dataclass_fields__[name].metadata
    least, most = facts["least"], facts["most"]
    assert least <= detector.Limits.__dataclass_fields__[name].default <= most
    table = f"[limits.{detector.NAME}]\n{name} = "
    for value in (least, most):
        file = written(f'{table}{value:g}\n[machines.a]\nport = "/dev/a"\n')
        told = [line for line in mistakes(file.read_text()) if "is more than" not in line]
        assert told == []
    for beyond, words in ((least - 1, "at least"), (most + 1, "at most")):
        (first, *_) = mistakes(f"{table}{beyond:.0f}\n" if beyond == round(beyond) else f"{table}{beyond!r}\n")
        assert first.startswith(f"limits.{detector.NAME}.{name}: ")
        assert f" is out of bounds. It must be {words} " in first


def test_with_nothing_set_every_limit_is_its_declared_default() -> None:
    settings = Settings()
    watch = watch_of("a", Machine(port="/dev/a"), settings)
    assert [armed.detector for armed in watch.armed] == list(detectors.MACHINE)
    assert [armed.limits for armed in watch.armed] == [detector.Limits() for detector in detectors.MACHINE]
    assert [armed.limits for armed in watch_of_itself(settings).armed] == [one.Limits() for one in detectors.WATCH]


def test_the_nearer_word_wins(written: Written) -> None:
    """Default, material, [limits], the machine's own: each over the one before, value by value."""
    settings = load(
        written("""
[machines.a]
port = "/dev/a"
[machines.b]
port = "/dev/b"
material = "petg"
filament_diameter = 2.85
[machines.b.limits.hot-idle]
dose = 8
glass_transition = 77
[machines.c]
port = "/dev/c"
material = "PC"
melts_at = 230
[limits.hot-idle]
dose = 12
cap = "30 min"
glass_transition = 66
""")
    )
    a, b, c = (limits_of(settings, name, "hot-idle") for name in "abc")
    assert (a.activation, a.reference, a.glass_transition, a.dose, a.cap, a.filament) == (119, 200, 66, 12, 1800, 1.75)
    assert (b.activation, b.reference, b.glass_transition, b.dose, b.cap, b.filament) == (134, 240, 77, 8, 1800, 2.85)
    assert (c.activation, c.reference, c.glass_transition, c.dose) == (154, 280, 66, 12)
    melts = [watch_of(name, one, settings).machine.melts_at for name, one in settings.machines.items()]
    assert melts == [150, 170, 230]


def test_the_kinetics_of_a_material_can_be_overridden_for_one_machine(written: Written) -> None:
    file = written('[machines.a]\nport = "/dev/a"\nmaterial = "ABS"\nlimits.hot-idle.activation = 200\n')
    limits = limits_of(load(file), "a", "hot-idle")
    assert (limits.activation, limits.reference) == (200, 240)


def test_a_limit_of_one_machine_leaves_the_others_alone(written: Written) -> None:
    file = written('[machines.a]\nport = "/dev/a"\nlimits.silent.quiet = "5 min"\n[machines.b]\nport = "/dev/b"\n')
    settings = load(file)
    assert limits_of(settings, "a", "silent").quiet == 300
    assert limits_of(settings, "b", "silent").quiet == 60


def test_a_count_is_no_fraction(written: Written, mistakes: Callable[[str], list[str]]) -> None:
    settings = load(written('[machines.a]\nport = "/dev/a"\n[limits.silent-hot]\nqueries = 6\n'))
    queries = limits_of(settings, "a", "silent-hot").queries
    assert (queries, type(queries)) == (6, int)
    (told,) = mistakes("[limits.silent-hot]\nqueries = 6.5\n")
    assert "6.5 is no whole number" in told


def test_the_source_of_a_machine_decides_how_silence_is_judged(written: Written) -> None:
    settings = load(written('[machines.a]\nport = "/dev/a"\n[machines.b]\nsource = "log"\nlog = "/x"\n'))
    sources = [watch_of(name, one, settings).source for name, one in settings.machines.items()]
    assert sources == [Source.SERIAL, Source.LISTENING]
