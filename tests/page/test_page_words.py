"""The page's words: complete in every case, in local time, and never more certain than the watch is."""

import re
from dataclasses import fields
from itertools import product
from zoneinfo import ZoneInfo

import pytest

from watchdog.page import views
from watchdog.page.app import LANGUAGES, STATUS
from watchdog.page.deeds import Answer, Outcome, Situation, Standing
from watchdog.page.links import Claim, Purpose
from watchdog.page.templates import STYLE, sheet
from watchdog.page.times import age, clock_time
from watchdog.page.views import Reader
from watchdog.page.words import ENGLISH, Words

LISBON, HALIFAX = ZoneInfo("Europe/Lisbon"), ZoneInfo("America/Halifax")
RAISED = 1772443867.0  # 2026-03-02T09:31:07Z
READER = Reader(ENGLISH, LISBON, RAISED + 720)
CASES = list(product(Purpose, Standing, [None, Answer(None, RAISED), Answer("duty-warden", RAISED, "a link", "bad")]))


def claim_of(purpose: Purpose) -> Claim:
    alarm = "hot-idle" if purpose is Purpose.ACKNOWLEDGE else ""
    return Claim(purpose, "doorway-1", alarm, 3, "workshop-lead", int(RAISED) + 9000)


@pytest.mark.parametrize(("purpose", "standing", "answered"), CASES)
def test_every_case_has_a_whole_page(purpose: Purpose, standing: Standing, answered: Answer | None) -> None:
    """No gap is left unfilled, and a button is there only where an answer still counts."""
    situation = Situation(standing, "nozzle hot", "Look at it", "Mind the heat.", RAISED, None, answered)
    claim = claim_of(purpose)
    for view in (
        views.asked(READER, claim, situation),
        views.told(READER, claim, Outcome(False, situation)),
        views.told(READER, claim, Outcome(True, situation)),
    ):
        text = sheet(view, "en", "advisory")
        assert not re.search(r"\{\w*\}|\bNone\b", text[text.index("<body>") :])
        assert view.heading
    assert bool(views.asked(READER, claim, situation).buttons) == (standing is Standing.OPEN)
    assert views.told(READER, claim, Outcome(False, situation)).buttons == ()
    assert views.told(READER, claim, Outcome(True, situation)).buttons == ()


@pytest.mark.parametrize("words", list(LANGUAGES.values()), ids=list(LANGUAGES))
def test_every_refusal_has_its_words_and_its_status(words: Words) -> None:
    assert set(words.refusals) == set(STATUS)
    assert set(words.asking) == set(Purpose)
    assert {value for value, _ in words.asking[Purpose.FIRST_LAYER].buttons} == set(words.answers)


@pytest.mark.parametrize("words", [words for words in LANGUAGES.values() if words is not ENGLISH])
def test_every_language_is_whole_and_asks_the_same(words: Words) -> None:
    """A button whose value the watch does not know would be a tap that changes nothing."""
    for purpose, asking in words.asking.items():
        english = ENGLISH.asking[purpose]
        assert [value for value, _ in asking.buttons] == [value for value, _ in english.buttons]
        assert (asking.caution is None) == (english.caution is None)
        for name in ("heading", "note", "done", "already", "by"):
            assert gaps(getattr(asking, name)) == gaps(getattr(english, name)), name
            assert getattr(asking, name) != getattr(english, name) or name == "heading"
    for field in fields(Words):
        own, english_one = getattr(words, field.name), getattr(ENGLISH, field.name)
        assert own != english_one, field.name
        if isinstance(own, str):
            assert gaps(own) == gaps(english_one), field.name
    assert (len(words.days), len(words.months)) == (7, 12)
    assert not re.search("segur|rápid|depress|culpa", str(words).replace(words.advisory, ""), re.IGNORECASE)


def gaps(text: str) -> list[str]:
    return sorted(re.findall(r"\{\w*\}", text))


@pytest.mark.parametrize("why", sorted(set(STATUS) - {"unavailable", "no-such-page"}))
def test_who_is_refused_learns_that_nothing_was_changed(why: str) -> None:
    assert "Nothing was changed" in ENGLISH.refusals[why][1]


def test_where_it_cannot_be_told_whether_something_was_noted_the_page_does_not_say_that_nothing_was() -> None:
    heading, line = ENGLISH.refusals["unavailable"]
    assert "Nothing" not in heading + line
    assert "cannot be told" in line


@pytest.mark.parametrize(
    ("zone", "stamp", "shown"),
    [
        (LISBON, RAISED, "09:31"),
        (HALIFAX, RAISED, "05:31"),
        (LISBON, RAISED - 86400, "Sun 1 Mar, 09:31"),
        (HALIFAX, RAISED - 6 * 3600, "Sun 1 Mar, 23:31"),
    ],
)
def test_times_are_local_with_their_day_where_it_is_another(zone: ZoneInfo, stamp: float, shown: str) -> None:
    assert clock_time(stamp, zone, RAISED, ENGLISH) == shown


def test_both_hours_when_summer_time_ends_are_local_too() -> None:
    """2026-10-25, 01:30 comes twice in Lisbon."""
    first = 1792888200.0  # 2026-10-25T00:30Z
    assert clock_time(first, LISBON, first, ENGLISH) == clock_time(first + 3600, LISBON, first, ENGLISH) == "01:30"


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [(-5, "0 min"), (59, "0 min"), (720, "12 min"), (3600, "1 h 0 min"), (90061, "1 d 1 h")],
)
def test_ages(seconds: float, shown: str) -> None:
    assert age(seconds) == shown


def test_the_style_cannot_end_its_own_element() -> None:
    """Its hash is in the policy: what the browser reads must be what was hashed."""
    assert "<" not in STYLE
    assert "url(" not in STYLE
    assert "@import" not in STYLE
    assert f"<style>{STYLE}</style>" in sheet(views.refused(READER, "forged"), "en", "advisory")
