"""How the words read: for the age of 12, without haste, without false comfort, and blaming nobody."""

import re
from collections.abc import Callable, Iterator
from zoneinfo import ZoneInfo

import pytest

from watchdog.alerts.languages import ALARM_WORDS, CODES, language
from watchdog.alerts.wording import Wording
from watchdog.alerts.words import message
from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Priority, TellKind
from watchdog.record.parcels import Parcel

RAISED = 1772443867.0
LISBON = ZoneInfo("Europe/Lisbon")

AGE = 12
SCHOOL_AGE = 5  # a reader of grade n is about n + 5 years old

NEVER = {
    # false comfort, haste, blame; parts of words, so that all forms are met
    "en": "safe hurr rush quick immediat asap right.now at.once run.to forgot forget careless negle blame mistake fault.of "
    "your.fault you.failed should.have must.have.left why.did clumsy",
    "pt": "segur apress depress rápid imediat já.já corra culpa esquec descuid neglig devia.ter erro.seu desleix trapalh",
}


def prose(code: str) -> Iterator[tuple[str, str]]:
    """What is read as sentences, by alarm and by notice; names and times as they come."""
    words = language(code)
    for name, row in TABLE.items():
        told = words.alarm(row)
        yield name, "\n".join(getattr(told, field) for field in ALARM_WORDS)
    for name in sorted(
        {key.split(".")[1] for key in words.phrases if key.startswith("notices.") and key.count(".") == 2}
    ):
        texts = [text for key, text in words.phrases.items() if key.startswith(f"notices.{name}.")]
        filled = [
            re.sub(r"\{fire\}", words.phrases["fact.fire"], text) for text in texts if "{fire}" in text or "." in text
        ]
        yield name, "\n".join(re.sub(r"\{\w*\}", "doorway", text) for text in filled)


def counted(text: str) -> tuple[int, int, int, list[str]]:
    """Sentences, words, letters. A sentence ends with its stop or its line, never with a colon."""
    sentences = [one for one in re.split(r"[.!?]+(?:\s|$)|\n", text) if re.search(r"[^\W\d_]", one)]
    words = [word for one in sentences for word in re.findall(r"[\w'’-]+", one)]
    return len(sentences), len(words), sum(len(re.sub(r"\W", "", word)) for word in words), words


def readability_index(text: str) -> float:
    """The automated readability index: the school grade (USA) that reads `text` with ease.

    Senter & Smith, "Automated Readability Index", AMRL-TR-66-220, 1967; the formula from memory.
    """
    sentences, words, letters, _ = counted(text)
    return 4.71 * letters / words + 0.5 * words / sentences - 21.43


def reading_ease(text: str) -> float:
    """Flesch's reading ease as adapted to Portuguese: above 75 very easy, 50 to 75 easy (to the end of basic school).

    Martins, Ghiraldelo, Nunes & Oliveira, "Readability formulas applied to textbooks in Brazilian Portuguese", ICMSC-USP
    1996; from memory. For Brazil, since there is none for Portugal that we know; syllables are counted by groups of vowels.
    """
    sentences, total, _, words = counted(text)
    syllables = sum(max(1, len(re.findall(r"[aeiouáéíóúâêôãõàü]+", word.lower()))) for word in words)
    return 248.835 - 1.015 * total / sentences - 84.6 * syllables / total


def test_the_measures_tell_easy_words_from_hard_ones() -> None:
    """A measure that finds everything easy would show nothing."""
    hard = "Thermoplastic decomposition characteristics necessitate interdisciplinary precautionary considerations."
    assert readability_index(hard) > 30
    assert readability_index("The cat sat on the mat. It is hot.") < 1
    assert reading_ease("A decomposição termoplástica necessita considerações interdisciplinares precaucionárias.") < 20
    assert reading_ease("O bico está quente. Veja a peça.") > 75


@pytest.mark.parametrize(("name", "text"), list(prose("en")), ids=lambda it: it if len(it) < 30 else "")
def test_whoever_is_twelve_reads_every_english_message(name: str, text: str) -> None:
    assert readability_index(text) + SCHOOL_AGE <= AGE


@pytest.mark.parametrize(("name", "text"), list(prose("pt")), ids=lambda it: it if len(it) < 30 else "")
def test_every_portuguese_message_is_easy_to_read(name: str, text: str) -> None:
    assert reading_ease(text) >= 50


@pytest.mark.parametrize("code", CODES)
def test_no_word_comforts_falsely_urges_haste_or_blames(code: str, parcel: Callable[..., Parcel]) -> None:
    words = language(code)
    texts = list(words.phrases.values())
    for name in TABLE:
        for kind in TellKind:
            for priority in Priority:
                told = parcel(name, kind=kind, priority=priority)
                texts += message([told], TABLE, Wording(LISBON, RAISED + 999, language=words))
    found = {
        (ban, text) for ban in NEVER[code].split() for text in texts if re.search(rf"\b{ban}", text, re.IGNORECASE)
    }
    assert found == set()


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize(
    "name", ["filament-out", "feed-slipping", "flow-lost", "waiting-for-person", "extruding-in-place"]
)
def test_where_hands_go_near_a_hot_nozzle_the_message_says_that_it_is_hot(name: str, code: str) -> None:
    """Whoever is sent to free a spool stands before a nozzle of 205 °C."""
    assert {"en": "hot", "pt": "quente"}[code] in language(code).alarm(TABLE[name]).then
