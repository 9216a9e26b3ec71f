"""The words of a message: enough on a locked screen, complete in the body, nobody's name."""

import re
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.alerts import notices
from watchdog.alerts.languages import CODES, language
from watchdog.alerts.lines import row_of
from watchdog.alerts.wording import Minute, Wording
from watchdog.alerts.words import message
from watchdog.core.alarms.table import TABLE
from watchdog.core.alarms.telling import TO_ACKNOWLEDGE
from watchdog.core.effects import Priority, Tell, TellKind
from watchdog.core.moment import Moment
from watchdog.record.parcels import Parcel

RAISED = 1772443867.0  # 2026-03-02T09:31:07Z
LISBON = ZoneInfo("Europe/Lisbon")
FACTS = {"nozzle": 204.96, "target": 205, "hot_for_s": 660, "file": "mia-smith-cleat.gco", "text": "printing mia"}
MINUTES = [Minute(RAISED - 60, 205.0, 205.0, 60.0, 41.0), Minute(RAISED, 204.6, 205.0, None, 41.0)]

Golden = Callable[[Path, str], None]


def seen_at(now: float, **changes: Any) -> Wording:
    return Wording(LISBON, now, **changes)


def all_forms(name: str, wording: Callable[..., Wording], parcel: Callable[..., Parcel]) -> str:
    """The first message with its mail, a reminder, and the end."""
    row = TABLE[name]
    told = parcel(name, priority=row.priority, evidence=FACTS)
    words = message([told], TABLE, wording(RAISED + 4), {"doorway-1": MINUTES})
    again = parcel(name, priority=row.priority, kind=TellKind.REMINDER, nth=3, at=RAISED + 900, next_at=None)
    over = parcel(name, priority=row.priority, kind=TellKind.ALL_CLEAR, at=RAISED + 780, next_at=None)
    reminder = message([again], TABLE, wording(RAISED + 901))
    returned = message([over], TABLE, wording(RAISED + 781))
    return "\n".join(
        (
            f"--- {words.title}\n{words.body}",
            f"--- mail: {words.subject}\n{words.html}",
            f"--- brief\n{words.brief}",
            f"--- {reminder.title}\n{reminder.body}",
            f"--- {returned.title}\n{returned.body}\n",
        )
    )


@pytest.mark.parametrize("name", TABLE)
def test_every_alarm_reads_as_its_golden_says(name: str, golden: Golden, parcel: Callable[..., Parcel]) -> None:
    golden(Path(__file__).parent / "golden" / f"{name}.txt", all_forms(name, seen_at, parcel))


@pytest.mark.parametrize("name", TABLE)
def test_every_alarm_reads_in_portuguese_as_its_golden_says(
    name: str, golden: Golden, parcel: Callable[..., Parcel]
) -> None:
    text = all_forms(name, partial(seen_at, language=language("pt")), parcel)
    golden(Path(__file__).parent / "golden" / "pt" / f"{name}.txt", text)


@pytest.mark.parametrize("code", CODES)
@pytest.mark.parametrize("name", TABLE)
def test_on_a_machine_with_an_ordinary_name_no_first_line_is_cut(
    name: str, code: str, parcel: Callable[..., Parcel]
) -> None:
    wording = seen_at(RAISED, language=language(code))
    first = message([parcel(name, priority=TABLE[name].priority)], TABLE, wording).first
    assert "…" not in first
    assert len(first) <= 120


kinds = st.sampled_from(TellKind)
stamps = st.floats(0, 4e9)
names = st.text(min_size=1, max_size=60)
values = st.one_of(st.none(), st.integers(), st.floats(), st.text(), st.booleans())
FILE = "mia-smith.gco"
files = st.sampled_from([FILE, f"Now fresh file: {FILE}", f"/jobs/{FILE}", "MIA-SM~1", f"Printing {FILE} now"])
evidence = st.dictionaries(st.one_of(st.text(max_size=20), st.sampled_from(list(FACTS))), st.one_of(values, files))
actions = {row.action: row for row in TABLE.values()}


@st.composite
def waiting(draw: st.DrawFn) -> Parcel:
    at, since, created = draw(stamps), draw(stamps), draw(stamps)
    tell = Tell(
        Moment(at, at),
        draw(kinds),
        draw(st.sampled_from([*TABLE, *notices.NAMES, "an-alarm-of-tomorrow"])),
        draw(st.integers(1, 3)),
        draw(st.sampled_from(Priority)),
        Moment(since, since),
        draw(st.integers(0, 10**9)),
        draw(evidence),
        draw(st.one_of(st.none(), st.floats(0, 1e6))),
    )
    why = draw(st.one_of(st.text(max_size=30), st.just("nobody answered for 10 min")))
    return Parcel(draw(st.integers(1, 10**6)), "workshop lead", draw(names), tell, created, 0, frozenset(), why=why)


@given(st.lists(waiting(), min_size=1, max_size=5), stamps, st.sampled_from(CODES))
def test_any_facts_give_a_first_line_that_a_locked_screen_shows(parcels: list[Parcel], now: float, code: str) -> None:
    """A teacher reads it at arm's length between two pupils: what to do stands first, or that it is over."""
    wording = seen_at(now, language=language(code))
    words = message(parcels, TABLE, wording)
    assert len(words.first) <= 120
    assert "\n" not in words.first
    rows = [row_of(TABLE, name, wording) for name in (*TABLE, "an-alarm-of-tomorrow")]
    phrases = [text for name, text in wording.language.phrases.items() if FIRST_OF_NOTICE.match(name)]
    starts = [row.action[:12] for row in rows] + [text.split("{")[0][:12] for text in phrases]
    assert words.first.startswith((wording.language.say("over.start", place="")[:4], *starts))
    assert words.body.startswith(words.first)
    assert len(words.brief) <= 160


FIRST_OF_NOTICE = re.compile(r"notices\..*\.first|another_version\.note")


@given(st.lists(waiting(), min_size=1, max_size=5), stamps)
def test_no_facts_bring_a_file_name_or_haste_into_a_message(parcels: list[Parcel], now: float) -> None:
    """A file name holds a pupil's name; it would stand on a phone that lies on a desk."""
    words = message([it._replace(machine="doorway-1", why="") for it in parcels], TABLE, seen_at(now))
    for part in words:
        assert FILE not in part
        assert "MIA-SM" not in part


@pytest.mark.parametrize("name", TABLE)
def test_no_message_says_safe_or_urges_haste(name: str, parcel: Callable[..., Parcel]) -> None:
    kinds = [
        message([parcel(name, kind=kind, priority=priority)], TABLE, seen_at(RAISED + 999))
        for kind in TellKind
        for priority in Priority
    ]
    for text in (part.lower() for words in kinds for part in words):
        assert not [word for word in ("safe", "hurry", "rush", "quick", "immediately", "at once") if word in text]


def test_a_file_name_is_told_where_the_settings_allow_it(parcel: Callable[..., Parcel]) -> None:
    told = [parcel(evidence=FACTS)]
    assert "mia-smith-cleat.gco" in message(told, TABLE, seen_at(RAISED, show_files=True)).body
    assert "mia" not in message(told, TABLE, seen_at(RAISED)).body


def test_a_person_s_name_in_the_evidence_is_replaced(parcel: Callable[..., Parcel]) -> None:
    told = parcel(
        "watch-impaired", evidence={"reasons": "no route takes messages to 'duty warden'", "by": "evening tutor"}
    )
    body = message([told], TABLE, seen_at(RAISED, names=frozenset({"duty warden", "evening tutor"}))).body
    assert "no route takes messages to 'a person'" in body
    assert "warden" not in body
    assert "tutor" not in body


def test_a_reminder_says_which_one_it_is_and_since_when(parcel: Callable[..., Parcel]) -> None:
    told = parcel(kind=TellKind.REMINDER, nth=3, at=RAISED + 900)
    words = message([told], TABLE, seen_at(RAISED + 900))
    assert words.first == "Cool the nozzle or start the job. doorway-1: nozzle hot and idle since 09:31, reminder 2."
    assert "Told before: 2 times." in words.body


def test_a_reminder_whose_first_message_never_left_does_not_claim_to_remind(parcel: Callable[..., Parcel]) -> None:
    told = [parcel(), parcel(kind=TellKind.REMINDER, nth=2, at=RAISED + 300)]
    words = message(told, TABLE, seen_at(RAISED + 301))
    assert "reminder" not in words.first
    assert "Told before" not in words.body


def test_what_returned_before_anybody_was_told_is_one_message_with_its_end(parcel: Callable[..., Parcel]) -> None:
    told = [parcel(), parcel(kind=TellKind.ALL_CLEAR, at=RAISED + 780, next_at=None)]
    words = message(told, TABLE, seen_at(RAISED + 800))
    assert words.title == "○ OVER doorway-1"
    assert words.first == "Over before you were told: doorway-1: nozzle hot and idle, 09:31–09:44."
    assert "Late: raised 09:31; sent at 09:44." in words.body


def test_an_alarm_that_came_again_after_its_end_is_told_beside_it(parcel: Callable[..., Parcel]) -> None:
    told = [
        parcel(),
        parcel(kind=TellKind.ALL_CLEAR, at=RAISED + 60),
        parcel(occurrence=2, since=RAISED + 90, at=RAISED + 90),
    ]
    words = message(told, TABLE, seen_at(RAISED + 91))
    assert words.title == "■ HIGH 2 messages"
    assert words.first.endswith("since 09:32. (+1 more)")


def test_several_messages_become_one_with_the_most_urgent_first(parcel: Callable[..., Parcel]) -> None:
    told = [
        parcel("silent", priority=Priority.LOW, machine="loft-1"),
        parcel(),
        parcel("heat-runaway", priority=Priority.URGENT),
        parcel("job-stalled", kind=TellKind.ALL_CLEAR, at=RAISED + 60),
    ]
    words = message(told, TABLE, seen_at(RAISED + 61))
    numbered = [line[3:] for line in words.body.splitlines() if line[:2] in ("1.", "2.", "3.", "4.")]
    assert words.title == "▲ URGENT 4 messages"
    assert len(words.first) <= 120
    assert [line.split()[1] for line in numbered] == ["URGENT", "HIGH", "LOW", "OVER"]
    assert "emberward acknowledge doorway-1/heat-runaway" in numbered[0]
    assert "emberward acknowledge loft-1/silent" in numbered[2]
    assert "acknowledge" not in numbered[3]


def test_an_alarm_that_has_become_urgent_says_so(parcel: Callable[..., Parcel]) -> None:
    lifted = parcel("card-fault", kind=TellKind.ESCALATED, priority=Priority.URGENT, nth=2)
    words = message([lifted], TABLE, seen_at(RAISED + 60))
    assert words.first.endswith("since 09:31, now urgent.")
    assert "It has become urgent." in words.body


def test_a_late_message_says_so_and_a_timely_one_does_not(parcel: Callable[..., Parcel]) -> None:
    told = [parcel()]
    assert "Late: raised 09:31; sent at 09:41." in message(told, TABLE, seen_at(RAISED + 600)).body
    assert "Late" not in message(told, TABLE, seen_at(RAISED + 119)).body


def test_a_late_reminder_tells_its_own_time_since_the_alarm_was_told_in_time(parcel: Callable[..., Parcel]) -> None:
    """Kept back so as not to disturb a lesson too often: it must not read as if nobody had been told for 20 minutes."""
    reminder = parcel(kind=TellKind.REMINDER, nth=2, at=RAISED + 900, created=RAISED + 900)
    assert "Late: of 09:46; sent at 09:51." in message([reminder], TABLE, seen_at(RAISED + 1200)).body


def test_times_are_local_and_the_hour_that_comes_twice_is_told_apart(parcel: Callable[..., Parcel]) -> None:
    """On 25 October 2026 Lisbon has 01:30 twice; the zone's own name says which."""
    first, second = 1792888200.0, 1792891800.0
    bodies = [message([parcel(since=stamp)], TABLE, seen_at(stamp)).body for stamp in (first, second)]
    assert "Since: 01:30 WEST" in bodies[0]
    assert "Since: 01:30 WET" in bodies[1]


def test_since_another_day_names_the_day(parcel: Callable[..., Parcel]) -> None:
    assert "since 2 Mar 09:31" in message([parcel()], TABLE, seen_at(RAISED + 86400)).first


def test_an_alarm_lifted_to_urgent_tells_the_shorter_time_to_respond(parcel: Callable[..., Parcel]) -> None:
    lifted = message([parcel("card-fault", priority=Priority.URGENT)], TABLE, seen_at(RAISED))
    plain = message([parcel("card-fault", priority=Priority.HIGH)], TABLE, seen_at(RAISED))
    assert lifted.title.startswith("▲ URGENT")
    assert "Respond within: 2 min" in lifted.body
    assert "Respond within: 10 min" in plain.body


def test_the_mail_page_escapes_what_it_is_given(parcel: Callable[..., Parcel]) -> None:
    told = parcel(machine="<b>&", evidence={"odd": "<script>"})
    html = message([told], TABLE, seen_at(RAISED)).html
    assert "<script>" not in html
    assert "&lt;script&gt;" in html
    assert "&lt;b&gt;&amp;" in html


def test_the_table_of_the_last_minutes_shows_unknown_as_unknown(parcel: Callable[..., Parcel]) -> None:
    html = message([parcel()], TABLE, seen_at(RAISED), {"doorway-1": MINUTES}).html
    rows = html.split("<pre>")[1].split("</pre>")[0].splitlines()
    assert [row.split() for row in rows[1:]] == [
        ["09:30", "205", "205", "60", "41"],
        ["09:31", "204.6", "205", "?", "41"],
    ]


def test_an_urgent_alarm_that_is_over_says_that_somebody_must_still_acknowledge_it(
    parcel: Callable[..., Parcel],
) -> None:
    """It stays in every status until somebody does, and nobody would know why."""
    facts = {TO_ACKNOWLEDGE: 1}
    over = parcel("heat-runaway", priority=Priority.URGENT, kind=TellKind.ALL_CLEAR, at=RAISED + 60, evidence=facts)
    first = message([over], TABLE, seen_at(RAISED + 61)).first
    assert first.endswith("Still to be acknowledged.")
    assert len(first) <= 120
