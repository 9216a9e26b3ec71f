"""Notices: told once, complete on a locked screen, never insisting, and never more than the watch knows."""

from collections.abc import Callable
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from watchdog.alerts import notices
from watchdog.alerts.languages import CODES, language
from watchdog.alerts.wording import Wording
from watchdog.alerts.words import message
from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Priority, TellKind
from watchdog.core.finding import Evidence
from watchdog.record.parcels import Parcel

RAISED = 1772443867.0  # 2026-03-02T09:31:07Z
LISBON = ZoneInfo("Europe/Lisbon")
LINK = "http://watch.example.org:8080/a/AQIDBA"
MakeParcel = Callable[..., Parcel]

CASES: dict[str, list[Evidence]] = {
    "first-layer": [{"job": 7, "layers": 212}],
    "job-finished": [{"job": 7, "took_s": 2280, "nozzle": 184.3}, {"job": 7, "took_s": 2280, "nozzle": None}],
    "watch-on": [
        {"machines": 2, "unseen": "", "active": "", "hot": ""},
        {"machines": 2, "unseen": "loft-1", "active": "doorway-1", "hot": "doorway-1"},
    ],
    "closing": [
        {"machines": 2, "unseen": "", "active": "", "hot": "", "unknown": "", "all_cold": 1, "until": 1772485200},
        {
            "machines": 3,
            "unseen": "loft-1",
            "active": "doorway-1",
            "hot": "doorway-1",
            "unknown": "loft-2",
            "all_cold": 0,
            "until": 1772485200,
        },
    ],
    "digest": [
        {"jobs": 5, "completed": 4, "incidents": 2, "urgent": 0, "high": 2, "low": 1, "unanswered": 0, "unlabelled": 2}
    ],
    "was-blind": [
        {"blind_s": 1020, "nozzle_before": 205.0, "nozzle_now": 41.5, "meanwhile": "job-moved"},
        {"blind_s": 1020, "nozzle_before": 205.0, "nozzle_now": None, "meanwhile": "not-known"},
    ],
    "nozzle-cooled": [{"was": 205.2, "nozzle": 181.0, "target": 0}],
    "nozzle-not-cooled": [{"was": 205.2, "nozzle": 204.9, "target": 0}],
}
OF_ALL = {"watch-on", "closing", "digest"}


def noticed(parcel: MakeParcel, name: str, facts: Evidence) -> Parcel:
    since = RAISED - 1020 if name == "was-blind" else RAISED
    priority = Priority.HIGH if name == "nozzle-not-cooled" else Priority.LOW
    machine = "watch" if name in OF_ALL else "doorway-1"
    kind = TellKind.NOTICE
    return parcel(
        name, kind=kind, machine=machine, priority=priority, evidence=facts, since=since, at=RAISED, next_at=None
    )


def test_every_notice_has_its_case() -> None:
    assert set(CASES) == notices.NAMES


@pytest.mark.parametrize("name", CASES)
def test_every_notice_reads_as_its_golden_says(
    name: str, golden: Callable[[Path, str], None], parcel: MakeParcel
) -> None:
    texts = []
    for code in CODES:
        for facts in CASES[name]:
            wording = Wording(LISBON, RAISED + 4, language=language(code))
            words = message([noticed(parcel, name, facts)], TABLE, wording)
            texts.append(f"--- {code}: {words.title}\n{words.body}\n--- brief\n{words.brief}\n")
    golden(Path(__file__).parent / "golden" / "notices" / f"{name}.txt", "".join(texts))


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("name", CASES)
def test_a_notice_asks_nobody_to_acknowledge_and_does_not_insist(name: str, code: str, parcel: MakeParcel) -> None:
    words = language(code)
    wording = Wording(LISBON, RAISED + 4, language=words, links=lambda _: None)
    for facts in CASES[name]:
        told = message([noticed(parcel, name, facts)], TABLE, wording)
        assert len(told.first) <= 120
        assert "…" not in told.first
        assert "emberward acknowledge" not in told.body
        assert words.say("fact.next", time="").split(":")[0] + ":" not in told.body
        assert words.say("marks.over") not in told.title


def cold(code: str, parcel: MakeParcel, facts: Evidence) -> bool:
    """Whether the closing statement says that all is cold."""
    words = language(code)
    told = message([noticed(parcel, "closing", facts)], TABLE, Wording(LISBON, RAISED, language=words))
    said = words.say("notices.closing.first_cold", ends="")[:15]
    return said in told.body or said in told.html


@pytest.mark.parametrize("code", CODES)
def test_all_cold_is_said_only_when_every_machine_is_known_to_be(code: str, parcel: MakeParcel) -> None:
    """Somebody locks up and goes home on this line."""
    all_cold = CASES["closing"][0]
    assert cold(code, parcel, all_cold)
    assert cold(code, parcel, {"all_cold": 1})
    for worse in ({"all_cold": 0}, {"all_cold": None}, {"all_cold": "1"}, {"hot": "doorway-1"}, {"unseen": "loft-1"}):
        assert not cold(code, parcel, {**all_cold, **worse})
    assert not cold(code, parcel, {})


@pytest.mark.parametrize("code", CODES)
def test_who_reads_that_it_is_cold_reads_that_this_is_a_reading(code: str, parcel: MakeParcel) -> None:
    words = language(code)
    wording = Wording(LISBON, RAISED, language=words)
    told = message([noticed(parcel, "closing", CASES["closing"][0])], TABLE, wording)
    assert words.phrases["notices.closing.then_cold"] in told.body
    assert {"en": "readings", "pt": "leituras"}[code] in told.first


def test_a_watch_that_sees_nothing_does_not_say_that_there_is_nothing_to_do(parcel: MakeParcel) -> None:
    none_seen: Evidence = {"machines": 2, "unseen": "doorway-1, loft-1"}
    for facts in (none_seen, {}):
        told = message([noticed(parcel, "watch-on", facts)], TABLE, Wording(LISBON, RAISED))
        assert "Nothing to do" not in told.body
    assert (
        "sees 0 of 2 machines"
        in message(
            [noticed(parcel, "watch-on", none_seen)],
            TABLE,
            Wording(LISBON, RAISED),
        ).first
    )


def test_a_digest_with_something_unanswered_does_not_say_that_there_is_nothing_to_do(parcel: MakeParcel) -> None:
    told = noticed(parcel, "digest", {**CASES["digest"][0], "unanswered": 2})
    words = message([told], TABLE, Wording(LISBON, RAISED))
    assert "Nothing to do" not in words.body
    assert words.first.startswith("See what waits for an answer")


def test_a_blind_time_is_never_told_as_all_well(parcel: MakeParcel) -> None:
    for facts in ({}, {"meanwhile": None}, {"meanwhile": "of-tomorrow"}, {"meanwhile": "not-known"}):
        told = message([noticed(parcel, "was-blind", facts)], TABLE, Wording(LISBON, RAISED))
        assert told.first.startswith("Look at the machine.")
        assert "not known" in told.first


def test_the_first_layer_is_answered_with_one_tap_where_there_is_a_page(parcel: MakeParcel) -> None:
    told = noticed(parcel, "first-layer", CASES["first-layer"][0])
    with_link = message([told], TABLE, Wording(LISBON, RAISED, links=lambda _: LINK))
    without = message([told], TABLE, Wording(LISBON, RAISED))
    assert f"How does it look? To answer good, bad, or not looked at: tap {LINK}" in with_link.body
    assert f'<a href="{LINK}">{LINK}</a>' in with_link.html
    assert "tap" not in without.body


def test_a_notice_that_comes_with_an_alarm_stands_behind_it(parcel: MakeParcel) -> None:
    told = [noticed(parcel, "nozzle-not-cooled", {}), parcel(), noticed(parcel, "job-finished", {"took_s": 60})]
    words = message(told, TABLE, Wording(LISBON, RAISED))
    lines = [line for line in words.body.splitlines() if line[:2] in ("1.", "2.", "3.")]
    assert words.title == "■ HIGH 3 messages"
    assert [line[3:].split(" ")[:3] for line in lines] == [
        ["■", "HIGH", "Cool"],
        ["■", "HIGH", "Go"],
        ["▷", "NOTE", "Let"],
    ]
    assert words.body.count("emberward acknowledge") == 1


def test_two_notices_together_say_what_the_first_of_them_asks(parcel: MakeParcel) -> None:
    told = [noticed(parcel, "first-layer", {}), noticed(parcel, "job-finished", {})]
    words = message(told, TABLE, Wording(LISBON, RAISED))
    assert words.first.startswith("Look at the first layer; do not touch. doorway-1")
    assert words.first.endswith(" (+1 more)")


def test_a_notice_of_another_version_is_told_by_its_name(parcel: MakeParcel) -> None:
    told = noticed(parcel, "of-tomorrow", {"nozzle": 30.0, "by": "duty warden"})
    words = message([told], TABLE, Wording(LISBON, RAISED))
    assert words.first == "A note from the watch. doorway-1: of-tomorrow, 09:31."
    assert "nozzle 30 °C" in words.body
    assert "warden" not in words.body


values = st.one_of(st.none(), st.integers(-(10**12), 10**12), st.floats(), st.text(max_size=300), st.booleans())
keys = st.sampled_from(sorted({key for cases in CASES.values() for facts in cases for key in facts}))


@given(st.sampled_from(sorted(CASES)), st.dictionaries(keys, values), st.sampled_from(CODES))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_facts_keep_a_notice_from_being_told(parcel: MakeParcel, name: str, facts: Evidence, code: str) -> None:
    """A row of the record that was rescued may hold anything."""
    wording = Wording(LISBON, RAISED, language=language(code))
    told = message([noticed(parcel, name, facts)], TABLE, wording)
    assert len(told.first) <= 120
    assert "\n" not in told.first
