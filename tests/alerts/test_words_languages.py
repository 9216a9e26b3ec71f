"""One file of words a language: whole, alike, and short enough. What types cannot hold in a TOML file is held here."""

import ast
import re
from collections.abc import Callable, Iterator, Mapping
from enum import Enum
from functools import partial
from pathlib import Path
from string import Formatter
from typing import get_args
from zoneinfo import ZoneInfo

import pytest

from watchdog.alerts import notices
from watchdog.alerts.languages import ALARM_WORDS, CODES, ENGLISH, Language, language
from watchdog.alerts.matters import Matter
from watchdog.alerts.plain import FILE_KEYS, PERSON_KEYS, SPOKEN_KEYS, clock_time, duration, seen
from watchdog.alerts.wording import Minute, Wording
from watchdog.alerts.words import message
from watchdog.core import cooling, detectors, routing
from watchdog.core.alarms.table import TABLE
from watchdog.core.alarms.telling import TO_ACKNOWLEDGE
from watchdog.core.effects import Priority, TellKind
from watchdog.core.notices.notice import NAMES
from watchdog.core.observations import FaultKind
from watchdog.core.snapshot import Link, SensorKind
from watchdog.record.parcels import Parcel
from watchdog.settings.model import Person

RAISED = 1772443867.0  # 2026-03-02T09:31:07Z
LISBON = ZoneInfo("Europe/Lisbon")
OTHERS = [code for code in CODES if code != "en"]
MakeParcel = Callable[..., Parcel]


def gaps(phrase: str) -> list[str]:
    return sorted(name for _, name, _, _ in Formatter().parse(phrase) if name is not None)


def sources(package: str) -> Iterator[ast.AST]:
    """Every piece of the program text of a package."""
    for file in sorted(Path(package).parent.glob("*.py")):
        yield from ast.walk(ast.parse(file.read_text("utf-8")))


def text_of(node: ast.AST) -> str | None:
    """A written text, with 5 for what is filled in."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join("5" if isinstance(part, ast.FormattedValue) else text_of(part) or "" for part in node.values)
    return None


@pytest.mark.parametrize("code", OTHERS)
def test_every_language_has_the_same_phrases_with_the_same_gaps(code: str) -> None:
    """A phrase that is missing would cost a message."""
    own = {name: text for name, text in language(code).phrases.items() if not name.startswith("alarms.")}
    assert {name: gaps(text) for name, text in own.items()} == {
        name: gaps(text) for name, text in ENGLISH.phrases.items()
    }
    assert {name for name, text in own.items() if not text} == {
        name for name, text in ENGLISH.phrases.items() if not text
    }


@pytest.mark.parametrize("code", OTHERS)
def test_every_language_says_every_alarm_in_its_own_words(code: str) -> None:
    words = {name for name in language(code).phrases if name.startswith("alarms.")}
    assert words == {f"alarms.{alarm}.{field}" for alarm in TABLE for field in ALARM_WORDS}
    for alarm, row in TABLE.items():
        told = language(code).alarm(row)
        for field in ALARM_WORDS:
            assert getattr(told, field) != getattr(row, field), f"{alarm}.{field}"
            assert "{" not in getattr(told, field)


def test_english_does_not_say_a_second_time_what_stands_in_the_alarm_table() -> None:
    assert not [name for name in ENGLISH.phrases if name.startswith("alarms.")]
    assert all(ENGLISH.alarm(row) == row for row in TABLE.values())


@pytest.mark.parametrize("code", CODES)
def test_what_to_do_and_what_is_wrong_are_short(code: str) -> None:
    for row in map(language(code).alarm, TABLE.values()):
        assert len(row.action) <= 60, row.action
        assert len(row.what) <= 45, row.what
        assert row.action[0].isupper(), row.action
        assert not row.action.endswith("."), row.action


@pytest.mark.parametrize("code", CODES)
def test_where_fire_is_possible_every_language_says_to_evacuate_and_to_call_the_fire_service(code: str) -> None:
    words = language(code)
    fire, leave, call = {
        "en": ("fact.fire", "evacuate", "fire service"),
        "pt": ("fact.fire", "saiam", "bombeiros"),
    }[code]
    assert leave in words.phrases[fire]
    assert call in words.phrases[fire]
    with_fire = {name for name, row in TABLE.items() if ENGLISH.phrases["fact.fire"] in row.then}
    assert {"heat-runaway", "silent-hot", "unsupervised-hot", "sensor-limit"} <= with_fire
    assert {name for name, row in TABLE.items() if words.phrases[fire] in words.alarm(row).then} == with_fire
    for name in ("nozzle-not-cooled", "closing"):
        assert "{fire}" in words.phrases[f"notices.{name}.then"]


def test_every_notice_has_its_words() -> None:
    assert {*NAMES, cooling.COOLED, cooling.NOT_COOLED} == notices.NAMES
    for name in notices.NAMES:
        assert f"notices.{name}.then" in ENGLISH.phrases


def test_whatever_a_detector_tells_has_a_phrase() -> None:
    """Else a Portuguese message would speak of 'hot for s'."""
    assert detectors.__file__ is not None
    keys = {
        key.value
        for node in sources(detectors.__file__)
        if isinstance(node, ast.Dict)
        for key in node.keys
        if isinstance(key, ast.Constant) and isinstance(key.value, str)
    }
    assert {"nozzle", "dose_min", "unheard_for_s"} <= keys
    unsaid = FILE_KEYS | PERSON_KEYS | SPOKEN_KEYS | {"purge_mm3"}
    assert [key for key in sorted(keys - unsaid) if not ENGLISH.says(f"evidence.{key}")] == []


def test_every_word_that_the_watch_itself_puts_into_evidence_is_in_the_closed_set() -> None:
    kinds: list[type[Enum]] = [FaultKind, SensorKind, Link]
    for word in (str(member.value) for kind in kinds for member in kind):
        assert ENGLISH.said("values", word), word
    advice = seen({"advice": "purge 54 mm³"}, show_files=False, language=language("pt"))
    assert advice == ("conselho: purgue 54 mm³",)


def test_every_reason_that_the_routing_gives_is_known() -> None:
    """A reason that is not would be told in English."""
    assert routing.__file__ is not None
    reasons = set()
    for node in sources(routing.__file__):
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("Reached", "Order"):
            reasons |= {text_of(part) for part in (*node.args[1:], *(word.value for word in node.keywords))}
        if isinstance(node, ast.Assign) and [getattr(target, "id", "") for target in node.targets] == ["why"]:
            reasons |= {text_of(part) for part in ast.walk(node.value) if not isinstance(part, ast.Compare)}
    written = {reason for reason in reasons if reason and len(reason) > 6} - {"nobody answered for "}  # a piece
    assert {"on duty", "told before", "was told of it", "has come on duty"} <= written
    for minutes in ("nobody answered for 10 min", "nobody answered for 45 s"):
        assert ENGLISH.said("reasons", minutes)
    written = {"nobody answered for 5 min" if reason == "nobody answered for 5" else reason for reason in written}
    assert [reason for reason in sorted(written) if ENGLISH.said("reasons", reason) is None] == []


def to_tap(link: str | None, matter: Matter) -> str | None:
    return link


class Asked(dict[str, str]):
    """Phrases that remember which of them were used."""

    def __init__(self, phrases: Mapping[str, str]) -> None:
        super().__init__(phrases)
        self.used: set[str] = set()

    def __getitem__(self, name: str) -> str:
        self.used.add(name)
        return super().__getitem__(name)


@pytest.mark.parametrize("code", CODES)
def test_every_frame_is_used_by_some_message(code: str, parcel: MakeParcel) -> None:
    """A word that no message uses is one that nobody reads over."""
    asked = Asked(language(code).phrases)
    words = Language(code, asked)
    for told, now in cases(parcel):
        for link in (None, "https://watch.example.org/a/1"):
            tap = partial(to_tap, link)
            wording = Wording(
                LISBON,
                now,
                names=frozenset({"duty warden"}),
                language=words,
                links=tap,
                outlast_links=tap,
                marks=tap,
                outlast_marks=tap,
            )
            message(told, TABLE, wording, {"doorway-1": [Minute(RAISED, 1.5, None, None, None)]})
    for seconds in (31, 600, 5400, 7200, 86400, 200000):
        duration(seconds, words)
    seen({"odd": True, "other": False, "lines_per_min": 1, "card_bytes": 2}, show_files=False, language=words)
    closed = (
        "values.",
        "reasons.",
        "evidence.",
        "digest.",
        "meanwhile.",
        "alarms.",
        "page.",
        "way.",
    )  # sets, and the page
    left = {name for name in asked if not name.startswith(closed)} - asked.used
    assert left == set()


def cases(parcel: MakeParcel) -> Iterator[tuple[list[Parcel], float]]:
    """Messages of every form."""
    for kind in TellKind:
        for priority in Priority:
            for nth in (1, 2, 3):
                yield [parcel(kind=kind, priority=priority, nth=nth)], RAISED + 999
    yield [parcel(), parcel(kind=TellKind.ALL_CLEAR)], RAISED
    yield [parcel(next_at=None)], RAISED + 90000
    yield [parcel(kind=TellKind.ALL_CLEAR, evidence={TO_ACKNOWLEDGE: 1})], RAISED
    yield [parcel(), parcel("silent")], RAISED
    yield [parcel(kind=TellKind.ALL_CLEAR), parcel("silent", kind=TellKind.ALL_CLEAR)], RAISED
    yield [parcel("of-tomorrow")], RAISED
    yield [parcel()._replace(why="nobody answered for 10 min")], RAISED
    yield [parcel("watch-impaired", evidence={"reasons": "duty warden"})], RAISED
    facts: list[tuple[str, dict[str, float | int | str | None]]] = [
        ("first-layer", {"layers": 40}),
        ("job-finished", {"took_s": 2280, "nozzle": 180.0}),
        ("job-finished", {}),
        ("watch-on", {"machines": 2, "unseen": ""}),
        ("watch-on", {"machines": 2, "unseen": "loft-1", "active": "doorway-1", "hot": "doorway-1", "unknown": "x"}),
        ("watch-on", {}),
        ("closing", {"all_cold": 1, "until": RAISED}),
        ("closing", {"all_cold": 0, "hot": "doorway-1"}),
        ("closing", {}),
        ("digest", {"jobs": 3}),
        ("digest", {"jobs": 3, "unanswered": 1}),
        ("digest", {}),
        ("was-blind", {"meanwhile": "restarted"}),
        ("was-blind", {"meanwhile": "idle"}),
        ("nozzle-cooled", {}),
        ("nozzle-not-cooled", {}),
    ]
    for name, evidence in facts:
        yield [parcel(name, kind=TellKind.NOTICE, priority=Priority.LOW, evidence=evidence)], RAISED


def test_portuguese_has_its_own_dates_and_its_decimal_comma(parcel: MakeParcel) -> None:
    words = language("pt")
    assert clock_time(RAISED - 20 * 86400, LISBON, RAISED, words) == "10 fev 09:31"
    told = [parcel(evidence={"dose_min": 31.0, "nozzle": 204.64, "odd_mm": 0.25})]
    body = message(told, TABLE, Wording(LISBON, RAISED + 86400, language=words)).body
    assert "desde 2 mar 09:31." in body
    assert "bico 204,6 °C" in body
    assert "odd 0,2 mm" in body
    assert "há 1 dia" in body
    assert not re.search(r"\d\.\d", body)


def test_a_language_that_is_not_there_is_refused_with_those_that_are() -> None:
    with pytest.raises(LookupError, match="no words in 'xx', only in en, pt"):
        language("xx")


def test_the_settings_offer_exactly_the_languages_that_there_are() -> None:
    assert get_args(Person.model_fields["language"].annotation) == CODES
