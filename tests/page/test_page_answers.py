"""What the page says to those who have a link, and that only a tap does anything."""

import asyncio
import re
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from structlog.testing import capture_logs

from watchdog.clock import Clock
from watchdog.page.app import App
from watchdog.page.deeds import Answer, Situation, Standing
from watchdog.page.links import PATH, Key, Purpose, sign
from watchdog.page.options import Options
from watchdog.page.words import ENGLISH

Serve = Callable[..., Any]
ABOUT = ("doorway-1", "hot-idle", 3)
TAP = "answer=acknowledge"


def texts(html: str) -> str:
    """What is read, without the marks."""
    body = html[html.index("<body>") :]
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body)).replace("&#39;", "'")


def test_a_link_shows_the_alarm_what_to_do_since_when_and_how_it_is_now(serve: Serve) -> None:
    page = serve()
    reply = page.ask("GET", page.path())
    assert reply.status == 200
    said = texts(reply.text)
    for words in (
        "doorway-1: nozzle hot and idle",
        "Start the job or cool the nozzle.",
        "The nozzle is hot: keep hands away from it.",
        "2 Mar, 09:31",
        "hot, 205 °C, no job",
        "workshop-lead",
        "It is no safety device",
    ):
        assert words in said
    assert reply.text.count("<button") == 1
    assert '<form method="post"' in reply.text


def test_one_tap_says_what_was_done_by_whom_and_when(serve: Serve) -> None:
    page = serve()
    reply = page.tap(page.path())
    said = texts(reply.text)
    assert reply.status == 200
    assert "Noted: you are seeing to it" in said
    assert "Acknowledged by workshop-lead" in said
    assert re.search(r"At (\w+ 2 Mar, )?09:32", said)
    assert "By way of a link" in said
    assert "Nothing was changed at the machine." in said
    assert "<button" not in reply.text
    assert [(claim.alarm, claim.number, answer) for claim, answer in page.workshop.acts] == [("hot-idle", 3, None)]


def test_a_second_tap_says_who_was_first_and_changes_nothing(serve: Serve) -> None:
    page = serve()
    page.tap(page.path())
    second = page.tap(page.path(page.claim(person="duty-warden")))
    said = texts(second.text)
    assert second.status == 200
    assert "Somebody is seeing to it already" in said
    assert "Acknowledged by workshop-lead" in said
    assert "This tap changed nothing." in said
    assert len(page.workshop.acts) == 1
    assert page.page.counts["done"] == page.page.counts["answered"] == 1


def test_an_alarm_that_was_acknowledged_shows_by_whom_and_no_button(serve: Serve) -> None:
    page = serve()
    page.tap(page.path())
    reply = page.ask("GET", page.path())
    assert "Acknowledged by workshop-lead" in texts(reply.text)
    assert "<button" not in reply.text


def test_after_it_is_over_a_tap_is_refused_and_told_who_had_answered(serve: Serve) -> None:
    page = serve()
    answered = Answer("duty-warden", page.clock.now().stamp, "the command")
    page.workshop.standing[ABOUT] = page.workshop.standing[ABOUT]._replace(standing=Standing.OVER, answered=answered)
    opened, tapped = page.ask("GET", page.path()), page.tap(page.path())
    assert (opened.status, tapped.status) == (200, 409)
    for reply in (opened, tapped):
        said = texts(reply.text)
        assert "This is over" in said
        assert "Acknowledged by duty-warden" in said
        assert "By way of the command" in said
        assert "<button" not in reply.text
    assert page.workshop.acts == []


def test_after_it_is_over_and_nobody_had_answered_nobody_is_named(serve: Serve) -> None:
    page = serve()
    page.workshop.standing[ABOUT] = page.workshop.standing[ABOUT]._replace(standing=Standing.OVER)
    said = texts(page.tap(page.path()).text)
    assert "This is over" in said
    assert "Acknowledged by" not in said


def test_a_link_for_another_occurrence_acts_on_no_other(serve: Serve) -> None:
    """Yesterday's link must not silence today's alarm."""
    page = serve()
    for claim in (page.claim(number=2), page.claim(number=4), page.claim(machine="loft-1"), page.claim(alarm="silent")):
        assert page.ask("GET", page.path(claim)).status == 404
        reply = page.tap(page.path(claim))
        assert reply.status == 404
        assert "Nothing is known of this here" in texts(reply.text)
    assert page.workshop.acts == []
    assert page.workshop.standing[ABOUT].standing is Standing.OPEN


@pytest.mark.parametrize(("answer", "word"), [("good", "good"), ("bad", "bad"), ("skipped", "not looked at")])
def test_a_first_layer_is_answered_once(serve: Serve, answer: str, word: str) -> None:
    page = serve()
    path = page.path(page.claim(Purpose.FIRST_LAYER))
    opened = page.ask("GET", path)
    assert opened.text.count("<button") == 3
    assert "do not touch: nozzle and bed are hot" in texts(opened.text)
    assert f"Noted: {word}" in texts(page.tap(path, answer).text)
    again = texts(page.tap(path, "good").text)
    assert f"Answered already: {word}" in again
    assert [told for _, told in page.workshop.acts] == [answer]


def test_a_job_is_allowed_to_outlast_the_hours_with_the_caution_before_the_button(serve: Serve) -> None:
    page = serve()
    path = page.path(page.claim(Purpose.ALLOW_OUTLAST))
    opened = page.ask("GET", path)
    assert opened.text.index("can start a fire") < opened.text.index("<button")
    assert "Noted: this job may run on" in texts(page.tap(path, "allow").text)
    assert [answer for _, answer in page.workshop.acts] == [None]


@pytest.mark.parametrize(
    ("purpose", "answer"),
    [
        (Purpose.ACKNOWLEDGE, "good"),
        (Purpose.ACKNOWLEDGE, "allow"),
        (Purpose.FIRST_LAYER, "acknowledge"),
        (Purpose.FIRST_LAYER, "Good"),
        (Purpose.ALLOW_OUTLAST, "acknowledge"),
    ],
)
def test_a_link_does_nothing_but_its_own_purpose(serve: Serve, purpose: Purpose, answer: str) -> None:
    page = serve()
    reply = page.tap(page.path(page.claim(purpose)), answer)
    assert reply.status == 400
    assert page.workshop.acts == []


def test_eight_phones_at_once_make_one_acknowledgement(serve: Serve) -> None:
    page = serve()
    people = [f"person-{number}" for number in range(8)]
    with ThreadPoolExecutor(8) as phones:
        replies = list(phones.map(lambda name: page.tap(page.path(page.claim(person=name))), people))
    assert [reply.status for reply in replies] == [200] * 8
    assert sum("Noted: you are seeing to it" in reply.text for reply in replies) == 1
    assert sum("Somebody is seeing to it already" in reply.text for reply in replies) == 7
    ((claim, _),) = page.workshop.acts
    assert all(f"<dd>{claim.person}</dd>" in reply.text for reply in replies), "all are told of the same person"


async def test_a_tap_that_comes_while_another_is_being_written_waits_for_it(serve: Serve) -> None:
    """The two surely overlap here: the first is held in the middle until the second has come."""
    workshop = serve().workshop
    workshop.held = asyncio.Event()
    clock, key = Clock(), Key(b"k" * 32)
    app = App(Options("127.0.0.1", 0, "http://x", ZoneInfo("Europe/Lisbon")), workshop, key, clock)
    claim = serve().claim()
    statuses: list[int] = []

    async def tap() -> None:
        async def receive() -> dict[str, Any]:
            return {"type": "http.request", "body": TAP.encode(), "more_body": False}

        async def send(message: Any) -> None:
            if message["type"] == "http.response.start":
                statuses.append(message["status"])

        path = PATH + sign(key, claim)
        scope = {"type": "http", "method": "POST", "path": path, "headers": [], "client": ("10.0.0.7", 1)}
        await app(scope, receive, send)

    async with asyncio.TaskGroup() as taps:
        for _ in range(2):
            taps.create_task(tap())
        for _ in range(50):
            await asyncio.sleep(0)
        assert workshop.looks == 1, "the second has not even looked"
        workshop.held.set()
    assert statuses == [200, 200]
    assert len(workshop.acts) == 1
    assert dict(app.counts) == {"done": 1, "answered": 1}


def test_what_the_service_cannot_tell_is_said_to_be_unknown(serve: Serve) -> None:
    page = serve()
    page.workshop.standing[ABOUT] = Situation(Standing.OPEN, "nozzle hot and idle")
    said = texts(page.ask("GET", page.path()).text)
    assert "Now cannot be told" in said
    assert "Since" not in said


@pytest.mark.parametrize("fault", [OSError(28, "No space left on device"), RuntimeError("x"), TimeoutError()])
def test_a_fault_of_the_service_is_told_and_survived(serve: Serve, fault: Exception) -> None:
    page = serve()
    page.workshop.fault = fault
    with capture_logs() as lines:
        for reply in (page.ask("GET", page.path()), page.tap(page.path())):
            assert reply.status == 503
            assert "It cannot be told whether anything was noted" in texts(reply.text)
    assert [line["event"] for line in lines] == ["page fault", "page refused"] * 2
    page.workshop.fault = None
    assert page.tap(page.path()).status == 200


def test_a_service_that_does_not_answer_in_time_is_told(serve: Serve) -> None:
    page = serve(patience=0.0)
    assert page.tap(page.path()).status == 503
    assert page.workshop.acts == []


def test_a_tap_leaves_one_line_in_the_log_without_the_link(serve: Serve) -> None:
    page = serve()
    path = page.path()
    with capture_logs() as lines:
        page.tap(path)
    (line,) = lines
    assert line == {
        "event": "page tap",
        "log_level": "info",
        "result": "done",
        "purpose": "acknowledge",
        "machine": "doorway-1",
        "alarm": "hot-idle",
        "number": 3,
        "person": "workshop-lead",
    }


def test_the_status_page_is_there_only_where_it_is_wanted(serve: Serve) -> None:
    assert serve().ask("GET", "/").status == 404
    page = serve(status=True)
    reply = page.ask("GET", "/")
    said = texts(reply.text)
    assert reply.status == 200
    assert "doorway-1 nozzle hot and idle; hot, 205 °C" in said
    assert "loft-1 cannot be told" in said
    assert "loft-2 out of service until Mon 2 Mar, 11:31, only urgent alarms are told" in said
    assert "; shelved until Mon 2 Mar, 11:31: machine does not answer; no job" in said
    assert "<button" not in reply.text
    assert page.ask("POST", "/", TAP).status == 405


def test_every_word_can_be_of_another_language(serve: Serve) -> None:
    """Its name stands in the page for those whose phone reads aloud."""
    page = serve(words=replace(ENGLISH, lang="pt", since="Desde", now="Agora"), status=True)
    for reply in (page.ask("GET", page.path()), page.ask("GET", "/a/x"), page.ask("GET", "/")):
        assert '<html lang="pt">' in reply.text
        assert reply.headers["content-language"] == "pt"
    said = texts(page.ask("GET", page.path()).text)
    assert "Desde Mon 2 Mar, 09:31" in said
    assert "Since" not in said


EVERY_PAGE = ["GET", "POST", "damaged", "expired", "method", "oversize", "none", "malformed", "status"]


@pytest.mark.parametrize("which", EVERY_PAGE)
def test_every_page_forbids_all_that_a_page_could_load_or_leak(serve: Serve, which: str) -> None:
    page = serve(status=True)
    old = page.path(page.claim(expires=1))
    reply = {
        "GET": lambda: page.ask("GET", page.path()),
        "POST": lambda: page.tap(page.path()),
        "damaged": lambda: page.ask("GET", "/a/x"),
        "expired": lambda: page.ask("GET", old),
        "method": lambda: page.ask("PUT", page.path()),
        "oversize": lambda: page.ask("POST", page.path(), "x" * 5000),
        "none": lambda: page.ask("GET", "/favicon.ico"),
        "malformed": lambda: page.ask("GET", "/" + "x" * 9000),
        "status": lambda: page.ask("GET", "/"),
    }[which]()
    policy = reply.headers["content-security-policy"]
    assert policy.startswith("default-src 'none'; style-src 'sha256-")
    assert "frame-ancestors 'none'" in policy
    assert "form-action 'self'" in policy
    assert "unsafe" not in policy
    assert reply.headers["cache-control"] == "no-store"
    assert reply.headers["referrer-policy"] == "no-referrer"
    assert reply.headers["x-frame-options"] == "DENY"
    assert reply.headers["x-content-type-options"] == "nosniff"
    assert reply.headers["content-type"] == "text/html; charset=utf-8"
    assert "set-cookie" not in reply.headers
    assert "server" not in reply.headers
    assert re.fullmatch(r"\w{3}, \d\d \w{3} \d{4} \d\d:\d\d:\d\d GMT", reply.headers["date"])
    assert reply.text.startswith('<!DOCTYPE html>\n<html lang="en">')
    assert 'name="viewport"' in reply.text
    assert not re.search(r"<script|<img|<link|<iframe|javascript:|https?://|\son\w+=|\sstyle=", reply.text)
    assert not re.search(
        r"\bsafe\b|\bhurry\b|\bquick|\bat once\b|\bfault of\b|your mistake", texts(reply.text), re.IGNORECASE
    )


def test_whoever_opens_a_link_reads_the_language_of_the_one_it_was_sent_to(serve: Serve) -> None:
    """A caretaker who reads Portuguese gets the message in it; the page behind its link must not be another matter."""
    page = serve(languages={"caretaker": "pt", "workshop-lead": "en"})
    link = page.path(page.claim(person="caretaker"))
    shown, tapped = page.ask("GET", link), page.tap(link)
    assert (shown.headers["content-language"], tapped.headers["content-language"]) == ("pt", "pt")
    assert '<html lang="pt">' in shown.text
    assert "Eu trato disto" in shown.text
    assert "Registado: vai tratar disto" in tapped.text
    old = page.ask("GET", page.path(page.claim(person="caretaker", expires=1)))
    assert "Este link já passou do prazo" in old.text
    for person in ("workshop-lead", "nobody-known"):
        other = page.ask("GET", page.path(page.claim(person=person)))
        assert (other.status, other.headers["content-language"]) == (200, "en")
