"""Numbers, durations and evidence in plain words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.alerts.plain import duration, seen, shorten
from watchdog.core.finding import Evidence


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (-5.0, "0 min"),
        (31.4, "31 s"),
        (60.0, "1 min"),
        (90.0, "90 s"),
        (600.0, "10 min"),
        (5400.0, "1 h 30 min"),
        (7200.0, "2 h"),
        (86400.0, "1 day"),
        (200000.0, "2 days"),
        (float("nan"), "not known"),
    ],
)
def test_durations_read_as_people_say_them(seconds: float, words: str) -> None:
    assert duration(seconds) == words


def test_evidence_is_told_with_its_units() -> None:
    evidence = {"nozzle": 204.96, "below_for_s": 31, "fed_mm": 12, "progress_percent": 41.0, "unanswered": 4}
    assert seen(evidence, show_files=False) == (
        "nozzle 205 °C",
        "below for 31 s",
        "fed 12 mm",
        "progress 41 %",
        "queries without an answer: 4",
    )


def test_advice_is_told_once_and_an_unknown_stays_unknown() -> None:
    evidence: Evidence = {"dose_min": 31.0, "advice": "purge 60 mm³", "purge_mm3": 60, "cause": None, "kind": "runaway"}
    assert seen(evidence, show_files=False) == (
        "heat dose 31 min",
        "advice: purge 60 mm³",
        "its own reason: not known",
        "the machine reports: heat runaway",
    )


def test_the_machine_s_own_words_are_told_only_where_file_names_may_be() -> None:
    """A display text holds what the maker of the job file liked, often a pupil's name."""
    assert seen({"text": "Mia's cup", "file": "Mia's cup"}, show_files=False) == ()
    assert seen({"text": "Mia's cup"}, show_files=True) == ("text Mia's cup",)


def test_a_unit_with_a_stroke_is_no_file() -> None:
    told = seen({"sensor": "dust", "value": 61.0, "measured_in": "µg/m³"}, show_files=False)
    assert told == ("sensor: dust", "reading 61", "in µg/m³")
    assert seen({"sensor": "a/b.gcode"}, show_files=False) == ()


def test_what_is_missing_is_told_as_not_known_and_never_as_nought() -> None:
    assert seen({"bed": None, "nozzle": float("nan")}, show_files=False) == ("bed not known", "nozzle not known")


@given(st.text(), st.integers(-5, 200))
def test_a_shortened_text_fits_and_stays_on_one_line(text: str, room: int) -> None:
    short = shorten(text, room)
    assert len(short) <= max(room, 0)
    assert "\n" not in short
