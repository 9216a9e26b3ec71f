"""What goes through an SMS gateway fits into one part, which is what each one costs."""

from collections.abc import Callable
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.alerts.brief import brief, fits, plain
from watchdog.alerts.languages import CODES, language
from watchdog.alerts.wording import Wording
from watchdog.alerts.words import message
from watchdog.core.alarms.table import TABLE
from watchdog.record.parcels import Parcel

RAISED = 1772443867.0
LISBON = ZoneInfo("Europe/Lisbon")
LINE = "Cool the nozzle or start the job. doorway-1: nozzle hot and idle since 09:31."


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("name", TABLE)
def test_the_brief_form_of_every_alarm_is_one_part(name: str, code: str, parcel: Callable[..., Parcel]) -> None:
    """One ã would make two parts of it, or three."""
    told = parcel(name, priority=TABLE[name].priority)
    words = message([told], TABLE, Wording(LISBON, RAISED, language=language(code)))
    assert fits(words.brief)
    assert words.brief.startswith(language(code).say(f"marks.{TABLE[name].priority}") + ": ")


def test_the_link_goes_along_where_one_part_holds_both() -> None:
    short = "http://10.0.0.5/a/" + "x" * (160 - len(f"HIGH: {LINE} http://10.0.0.5/a/"))
    assert brief("HIGH", LINE, short) == f"HIGH: {LINE} {short}"
    assert brief("HIGH", LINE, short + "x") == f"HIGH: {LINE}"
    assert brief("HIGH", LINE, None) == f"HIGH: {LINE}"
    longest = "x" * (306 - len(f"HIGH: {LINE} "))
    assert brief("HIGH", LINE, longest, two=True) == f"HIGH: {LINE} {longest}"
    assert brief("HIGH", LINE, longest + "x", two=True) == f"HIGH: {LINE}"


def test_letters_that_the_alphabet_lacks_lose_their_accent_and_others_keep_it() -> None:
    assert plain("Arrefeça a peça às 09:31–09:44, não é 205 °C…") == "Arrefeca a peca às 09:31-09:44, nao é 205 C..."


def test_a_script_of_another_alphabet_is_left_as_it_is() -> None:
    assert plain("принтер") == "принтер"
    assert not fits("п" * 71)
    assert fits("п" * 70)


def test_letters_of_two_places_count_twice() -> None:
    assert fits("€" * 80)
    assert not fits("€" * 81)


@given(st.text(max_size=200))
def test_any_text_can_be_written_plainly(text: str) -> None:
    assert plain(plain(text)) == plain(text)
