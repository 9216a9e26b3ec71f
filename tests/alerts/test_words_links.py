"""Answering with one tap, and why it is this person who is told."""

from collections.abc import Callable
from itertools import count
from zoneinfo import ZoneInfo

import pytest

from watchdog.alerts.languages import language
from watchdog.alerts.matters import Matter
from watchdog.alerts.wording import Wording
from watchdog.alerts.words import message
from watchdog.core.alarms.table import TABLE
from watchdog.core.alarms.telling import TO_ACKNOWLEDGE
from watchdog.core.effects import Priority, TellKind
from watchdog.record.parcels import Parcel

RAISED = 1772443867.0  # 2026-03-02T09:31:07Z
LISBON = ZoneInfo("Europe/Lisbon")
PAGE = "http://watch.example.org:8080/a/"
ALLOW = "http://watch.example.org:8080/a/allow"
MakeParcel = Callable[..., Parcel]


def link_to(matter: Matter) -> str:
    return f"{PAGE}{matter.tell.alarm}"


def allow(matter: Matter) -> str | None:
    return ALLOW if matter.tell.alarm == "outlasts-supervision" else None


LINKED = Wording(LISBON, RAISED, links=link_to, outlast_links=allow)


def test_an_alarm_is_answered_by_a_tap_and_the_command_stands_below_it(parcel: MakeParcel) -> None:
    words = message([parcel()], TABLE, LINKED)
    lines = words.body.splitlines()
    tap = lines.index(f"To answer: tap {PAGE}hot-idle")
    assert lines[tap + 1] == "Or, at the computer that watches: emberward acknowledge doorway-1/hot-idle"
    assert f'<a href="{PAGE}hot-idle">{PAGE}hot-idle</a>' in words.html


def test_without_a_page_the_command_stands_alone(parcel: MakeParcel) -> None:
    body = message([parcel()], TABLE, Wording(LISBON, RAISED)).body
    assert "To acknowledge: emberward acknowledge doorway-1/hot-idle" in body
    assert "tap" not in body


def test_a_job_that_may_outlast_the_hours_can_be_allowed_from_the_message(parcel: MakeParcel) -> None:
    words = message([parcel("outlasts-supervision", priority=Priority.LOW)], TABLE, LINKED)
    assert f"To answer: tap {PAGE}outlasts-supervision\n" in words.body
    assert f"If somebody stays with it, allow the job: tap {ALLOW}" in words.body
    assert f'<a href="{ALLOW}">' in words.html


def test_what_is_over_has_no_link_unless_somebody_must_still_acknowledge_it(parcel: MakeParcel) -> None:
    over = parcel("heat-runaway", kind=TellKind.ALL_CLEAR, priority=Priority.URGENT)
    assert PAGE not in message([over], TABLE, LINKED).body
    waiting = parcel("heat-runaway", kind=TellKind.ALL_CLEAR, priority=Priority.URGENT, evidence={TO_ACKNOWLEDGE: 1})
    assert f"To answer: tap {PAGE}heat-runaway" in message([waiting], TABLE, LINKED).body


def test_in_several_messages_each_has_its_own_link_in_place_of_the_command(parcel: MakeParcel) -> None:
    told = [parcel(), parcel("silent", priority=Priority.LOW), parcel("job-late", kind=TellKind.ALL_CLEAR)]
    words = message(told, TABLE, LINKED)
    lines = [line for line in words.body.splitlines() if line[:2] in ("1.", "2.", "3.")]
    assert lines[0].endswith(f"Answer: {PAGE}hot-idle")
    assert lines[1].endswith(f"Answer: {PAGE}silent")
    assert PAGE not in lines[2]
    assert "emberward acknowledge" not in words.body
    assert words.html.count("<a href=") == 2


def test_an_address_in_the_facts_cannot_be_tapped(parcel: MakeParcel) -> None:
    """Whoever writes a job file could else send a teacher anywhere."""
    told = parcel(evidence={"odd": "http://elsewhere.example.org/"})
    html = message([told], TABLE, Wording(LISBON, RAISED, show_files=True, links=link_to)).html
    assert "http://elsewhere.example.org/" in html
    assert html.count("<a ") == 1


def test_all_forms_of_a_message_hold_the_very_same_link(parcel: MakeParcel) -> None:
    """A link is signed with the moment at which it expires: made twice it would not be found again in the mail."""
    number = count()
    words = message([parcel()], TABLE, Wording(LISBON, RAISED, links=lambda _: f"http://x/{next(number)}"))
    assert f"tap {'http://x/0'}\n" in words.body
    assert '<a href="http://x/0">http://x/0</a>' in words.html
    assert words.brief.endswith(" http://x/0")


@pytest.mark.parametrize(
    ("why", "line"),
    [
        ("nobody answered for 10 min", "You are told because nobody answered for 10 min."),
        ("nobody answered for 45 s", "You are told because nobody answered for 45 s."),
        ("takes calls outside the hours", "You are told because you take calls outside the hours."),
        ("a reason of tomorrow", "You are told because a reason of tomorrow."),
        ("asked for by duty warden", "You are told because asked for by a person."),
    ],
)
def test_who_is_not_the_first_to_be_told_learns_why(why: str, line: str, parcel: MakeParcel) -> None:
    wording = Wording(LISBON, RAISED, names=frozenset({"duty warden"}))
    assert line in message([parcel()._replace(why=why)], TABLE, wording).body.splitlines()
    notice = parcel("job-finished", kind=TellKind.NOTICE, priority=Priority.LOW)._replace(why=why)
    assert line in message([notice], TABLE, wording).body.splitlines()


@pytest.mark.parametrize("why", ["", "first in line", "on duty", "told before", "was told of it"])
def test_who_comes_first_is_told_no_reason(why: str, parcel: MakeParcel) -> None:
    assert "because" not in message([parcel()._replace(why=why)], TABLE, Wording(LISBON, RAISED)).body


def test_the_reason_is_told_in_the_reader_s_language(parcel: MakeParcel) -> None:
    told = parcel()._replace(why="nobody answered for 10 min")
    body = message([told], TABLE, Wording(LISBON, RAISED, language=language("pt"))).body
    assert "Recebe este aviso porque ninguém respondeu durante 10 min." in body


def test_what_was_to_wait_for_the_break_does_not_excuse_itself_for_being_late(parcel: MakeParcel) -> None:
    told = parcel("silent", priority=Priority.LOW)._replace(not_before=RAISED + 3000)
    assert "Late" not in message([told], TABLE, Wording(LISBON, RAISED + 3060)).body
    assert "Late: raised 09:31" in message([told], TABLE, Wording(LISBON, RAISED + 3200)).body


def mark_of(matter: Matter) -> str:
    return f"EW-{matter.tell.alarm}"


READ = Wording(
    LISBON, RAISED, marks=mark_of, outlast_marks=lambda matter: f"EW-{allow(matter)}" if allow(matter) else None
)


def test_a_mail_says_how_it_is_answered_and_other_messages_do_not(parcel: MakeParcel) -> None:
    """A push message cannot be answered: there the line would only be in the way."""
    words = message([parcel()], TABLE, READ)
    assert "To take it on, answer this mail and leave this line: EW-hot-idle</p>" in words.html
    assert "EW-" not in words.title + words.subject + words.body + words.brief
    assert "EW-" not in message([parcel()], TABLE, Wording(LISBON, RAISED)).html


def test_a_job_can_be_allowed_by_mail_with_a_word_of_its_own(parcel: MakeParcel) -> None:
    html = message([parcel("outlasts-supervision", priority=Priority.LOW)], TABLE, READ).html
    assert "leave this line: EW-outlasts-supervision<br>" in html
    assert f"begin the answer with the word allow and leave this line: EW-{ALLOW}</p>" in html


def test_a_first_layer_is_judged_by_mail(parcel: MakeParcel) -> None:
    notice = parcel("first-layer", kind=TellKind.NOTICE, priority=Priority.LOW)
    html = message([notice], TABLE, READ).html
    assert "answer this mail with good, bad or not looked at, and leave this line: EW-first-layer" in html


def test_of_several_alarms_each_has_its_mark_and_what_is_over_has_none(parcel: MakeParcel) -> None:
    told = [parcel(), parcel("silent", priority=Priority.LOW), parcel("job-late", kind=TellKind.ALL_CLEAR)]
    html = message(told, TABLE, READ).html
    assert "do not take on:<br>\n1. EW-hot-idle<br>\n2. EW-silent</p>" in html
    assert "EW-job-late" not in html
    over = message([parcel("job-late", kind=TellKind.ALL_CLEAR)], TABLE, READ).html
    assert "EW-" not in over
