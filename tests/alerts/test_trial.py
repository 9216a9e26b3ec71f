"""The test message along every route."""

from typing import Any
from zoneinfo import ZoneInfo

from watchdog.alerts import trial
from watchdog.alerts.routes import Person, Route
from watchdog.record.parcels import Outcome

NOW = 1772443867.0  # 2026-03-02T09:31:07Z
LISBON = ZoneInfo("Europe/Lisbon")


async def test_every_route_gets_a_marked_message_and_an_answer_in_words(web: Any, mail: Any) -> None:
    mail.answer = "550 5.1.1 no such mailbox"
    people = [
        Person("workshop lead", (Route("phone", web.url), Route("gone", "json://127.0.0.1:1/tok3n-s3cret"))),
        Person("duty warden", (Route("desk", mail.url),)),
    ]
    tried = await trial.try_routes(people, LISBON, NOW)
    assert [(one.person, one.route, one.outcome) for one in tried] == [
        ("workshop lead", "phone", Outcome.DELIVERED),
        ("workshop lead", "gone", Outcome.FAILED),
        ("duty warden", "desk", Outcome.REFUSED),
    ]
    assert tried[0].words == "taken by the server; whether a person saw it cannot be known"
    assert "connection refused" in tried[1].words
    assert "550" in tried[2].words
    assert "s3cret" not in repr(tried)
    assert web.bodies[0]["title"] == "◇ TEST machine watch"
    assert web.bodies[0]["message"].startswith("Do nothing: this is a test of the machine watch, sent 09:31 WET.")


def test_the_test_message_fits_a_locked_screen_and_never_says_safe() -> None:
    words = trial.test_words(LISBON, NOW)
    assert len(words.first) <= 120
    assert "safe" not in " ".join(words).lower()
