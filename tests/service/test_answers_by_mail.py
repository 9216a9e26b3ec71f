"""From the wire to a mail and back: the real service, a real mail server, a real mailbox."""

import re
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from email import message_from_string
from email.message import EmailMessage
from email.policy import default
from typing import TYPE_CHECKING, Any

import pytest

from watchdog.page.key import kept
from watchdog.page.links import Claim, Purpose, sign

if TYPE_CHECKING:
    from tests.conftest import Dovecot
    from tests.service.conftest import House

Wait = Callable[..., Any]
FAR = 4_000_000_000  # a stamp in 2096


def settle(house: "House", dovecot: "Dovecot") -> None:
    house.settle(f"""
[routing.high]
first = "duty-warden"
[mail_answers]
host = "localhost"
port = {dovecot.port}
user = "watch"
password = "pässword"
root_certificate = "{dovecot.root}"
every = "5 s"
""")
    house.config.chmod(0o600)


def mails(house: "House") -> Iterator[EmailMessage]:
    while not house.mailbox.mails.empty():
        mail = message_from_string(house.mailbox.mails.get(), policy=default)
        assert isinstance(mail, EmailMessage)
        yield mail


def answer(words: str, quoted: str, sender: str = "desk@example.org", **headers: str) -> bytes:
    mail = EmailMessage()
    mail["From"], mail["To"], mail["Subject"] = sender, "watch@example.org", "Re: HIGH"
    mail["In-Reply-To"] = "<alert@example.org>"
    for name, said in headers.items():
        mail[name.replace("_", "-")] = said
    quote = "\n".join(f"> {line}" for line in quoted.splitlines())
    mail.set_content(f"{words}\n\nOn Monday the watch wrote:\n{quote}\n")
    return mail.as_bytes()


def counts(house: "House") -> dict[str, int]:
    status = house.status() or {"watch": {"mail_answers": {}}}
    told: dict[str, int] = status["watch"]["mail_answers"]
    return told


def raised(house: "House", wait: Wait) -> str:
    """The text of the mail about the hot nozzle, as its reader's mail program shows it."""
    house.plug_in()
    house.watch()
    house.do("load")
    found = wait(
        "the mail",
        lambda: next((mail for mail in mails(house) if "EW-" in str(mail.get_body(("plain", "html")))), None),
    )
    text = found.get_body(("plain",)).get_content()
    assert re.search(r"answer this mail and leave this line:\s+EW-[\w-]{60,}", text)
    return str(text)


def test_an_alarm_is_taken_on_by_answering_its_mail(house: "House", dovecot: "Dovecot", wait: Wait) -> None:
    """At a desk, with the mail open: 'ok' is enough, and the reminders end."""
    settle(house, dovecot)
    text = raised(house, wait)
    vacation = dovecot.deliver(answer("I am away", text, Auto_Submitted="auto-replied"))
    declined = dovecot.deliver(answer("Not me, sorry", text))
    wait("both to be read", lambda: dovecot.seen(vacation) and dovecot.seen(declined))
    assert house.alarms()["hot-idle"]["phase"] == "unacknowledged"
    dovecot.deliver(answer("ok", text, sender="somebody@elsewhere.example.org"))
    taken = wait("the answer", lambda: (alarm := house.alarms()["hot-idle"])["phase"] == "acknowledged" and alarm)
    assert taken["acknowledged_by"] == "duty-warden"
    again = dovecot.deliver(answer("ok", text))
    wait("the second answer to be read", lambda: dovecot.seen(again))
    wait("its refusal", lambda: counts(house).get("refused") == 1)
    assert counts(house) == {"automatic": 1, "declined": 1, "taken": 1, "refused": 1}
    house.do("cool")
    assert house.stop() == 0
    with closing(sqlite3.connect(house.folder / "incidents.db")) as record:
        took = record.execute("SELECT by_whom, how FROM transition WHERE transition = 'acknowledged'").fetchall()
        notes = record.execute("SELECT facts FROM noted WHERE kind = 'mail-answer' ORDER BY id").fetchall()
    assert took == [("duty-warden", "mail")]
    assert ["Not me, sorry" in note for (note,) in notes] == [True, False]
    assert ["another address than the one it was sent to" in note for (note,) in notes] == [False, True]
    assert "elsewhere.example.org" not in str(notes) + house.log


@pytest.mark.parametrize("wrong", ["forged", "expired", "other occurrence", "other machine", "a mail of our own"])
def test_an_answer_that_was_not_asked_for_changes_nothing(
    wrong: str, house: "House", dovecot: "Dovecot", wait: Wait
) -> None:
    """Whoever knows the address of the mailbox can write to it: an alarm is silenced only by who was told of it."""
    settle(house, dovecot)
    text = raised(house, wait)
    key = kept(house.folder)
    claim = Claim(Purpose.ACKNOWLEDGE, "doorway-1", "hot-idle", 1, "duty-warden", FAR)
    changed = {
        "expired": claim._replace(expires=1_000_000_000),
        "other occurrence": claim._replace(number=7),
        "other machine": claim._replace(machine="loft-1"),
    }
    mark = sign(key, changed.get(wrong, claim))
    if wrong == "forged":
        mark = mark[:-6] + ("A" * 6 if not mark.endswith("A" * 6) else "B" * 6)
    mail = answer("ok", f"EW-{mark}")
    if wrong == "a mail of our own":
        mail = f"From: watch@example.org\nSubject: HIGH\n\n{text}".encode()
    name = dovecot.deliver(mail)
    counted = "no answer" if wrong == "a mail of our own" else "refused"
    wait("it to be counted", lambda: counts(house).get(counted) == 1)
    assert dovecot.seen(name) is (counted == "refused")
    assert house.alarms()["hot-idle"]["phase"] == "unacknowledged"
    assert house.stop() == 0
    assert house.log.count("an answer by mail was refused") == (counted == "refused")
    assert mark not in house.log
