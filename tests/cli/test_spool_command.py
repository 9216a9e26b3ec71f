"""`spool`: what is left by the account, what weighing says, and what a diameter means."""

import json
import math
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from watchdog.record.store import Record
from watchdog.service.entries import flow_error

Command = Callable[..., subprocess.CompletedProcess[str]]
Open = Callable[[], Record]
PER_MM = math.pi / 4 * 1.74**2 * 1.24 / 1_000  # g/mm of PLA as measured


def shown(emberward: Command, config: Path) -> dict[str, Any]:
    done = emberward("spool", "--json", "--config", config)
    assert done.returncode == 0, done.stderr
    facts: dict[str, Any] = json.loads(done.stdout)
    return facts


def test_a_loaded_spool_is_told_in_metres_and_grams(emberward: Command, logged: Path) -> None:
    done = emberward(
        "spool", "load", "--material", "pla", "--grams", "1000", "--empty", "210", "--diameter", "1.74", "--by", "tutor",
        "--config", logged,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.startswith("doorway-1  PLA, 1.74 mm: 339.1 m, 1000 g left\n")
    assert "measured 1.74 mm: -1.1 % of flow" in done.stdout
    facts = shown(emberward, logged)
    assert facts["left_mm"] == pytest.approx(1000 / PER_MM)
    assert (facts["material"], facts["empty"], facts["loaded_by"], facts["needed_mm"]) == ("PLA", 210.0, "tutor", None)


def test_weighing_corrects_the_account(emberward: Command, logged: Path) -> None:
    emberward("spool", "load", "--grams", "1000", "--empty", "210", "--diameter", "1.74", "--config", logged)
    done = emberward("spool", "weigh", "640", "--config", logged)
    assert done.stdout.startswith("doorway-1  PLA, 1.74 mm: 145.8 m, 430 g left\n")
    assert shown(emberward, logged)["left_mm"] == pytest.approx(430 / PER_MM)
    less = emberward("spool", "weigh", "200", "--config", logged)
    assert (less.returncode, less.stdout) == (1, "")
    assert "200 g is less than the empty spool weighs, 210 g" in less.stderr
    assert shown(emberward, logged)["left_mm"] == pytest.approx(430 / PER_MM)


def test_jobs_take_from_the_spool_that_was_loaded_before_them(emberward: Command, logged: Path) -> None:
    emberward("spool", "load", "--grams", "500", "--at", "2026-03-02T10:30+00:00", "--config", logged)
    facts = shown(emberward, logged)
    assert facts["left_g"] == pytest.approx(500 - 2 * 8)
    assert facts["flow_error"] is None, "nobody measured it"


@pytest.mark.parametrize(("mm", "error"), [(1.75, 0.0), (1.80, 0.05796), (1.70, -0.05633)])
def test_a_diameter_is_told_as_the_flow_that_it_means(mm: float, error: float) -> None:
    """By hand: (1.80 / 1.75)² - 1 = 1.05796 - 1."""
    assert flow_error(mm, 1.75) == pytest.approx(error, abs=5e-6)


@pytest.mark.parametrize(("mm", "warned"), [("1.80", False), ("1.81", True), ("1.74", False)])
def test_filament_that_may_stick_is_warned_of(mm: str, warned: bool, emberward: Command, logged: Path) -> None:
    emberward("spool", "load", "--grams", "1000", "--config", logged)
    done = emberward("spool", "measure", mm, "--config", logged)
    assert done.returncode == 0, done.stderr
    assert ("WARNING: above 1.80 mm" in done.stdout) is warned
    assert shown(emberward, logged)["too_thick"] is warned


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("load", "--material", "PLQ"), "'PLQ' is not known here. Did you mean PLA?"),
        (("load", "--grams", "-5"), "grams: write a number of g, above 0"),
        (("load", "--grams", "nan"), "grams: write a number of g, above 0"),
        (("load", "--diameter", "17.4"), "diameter: write a number of mm, above 0.875 and at most 2.625"),
        (("weigh", "640"), "no spool is entered for doorway-1. Enter it: emberward spool load"),
        (("measure", "1.74"), "no spool is entered for doorway-1"),
        (("off",), "doorway-1: no spool was loaded"),
    ],
)
def test_what_cannot_be_is_refused(
    words: tuple[str, ...], said: str, emberward: Command, logged: Path, record_of: Open
) -> None:
    done = emberward("spool", *words, "--config", logged)
    assert (done.returncode, done.stdout) == (1, "")
    assert said in done.stderr
    with record_of() as record:
        assert record.spools() == ()


def test_a_spool_whose_empty_weight_nobody_said_cannot_be_weighed(emberward: Command, logged: Path) -> None:
    emberward("spool", "load", "--config", logged)
    done = emberward("spool", "weigh", "640", "--config", logged)
    assert (done.returncode, done.stdout) == (1, "")
    assert "the weight of the empty spool is not known" in done.stderr
    assert "what is on it is not known" in emberward("spool", "--config", logged).stdout


def test_a_word_too_few_or_too_many_is_told(emberward: Command, logged: Path) -> None:
    for words, said in (
        (("weigh",), "spool weigh 640"),
        (("measure",), "spool measure 1.74"),
        (("load", "5"), "--grams 1000"),
    ):
        done = emberward("spool", *words, "--config", logged)
        assert (done.returncode, done.stdout) == (2, "")
        assert said in done.stderr


def test_a_spool_that_is_off_is_no_longer_shown_and_stays_in_the_record(
    emberward: Command, logged: Path, record_of: Open
) -> None:
    emberward("spool", "load", "--grams", "1000", "--config", logged)
    assert emberward("spool", "off", "--config", logged).returncode == 0
    assert "no spool is entered" in emberward("spool", "--config", logged).stdout
    with record_of() as record:
        assert len(record.spools()) == 1
