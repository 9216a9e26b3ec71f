"""Answers by mail, as mail programs really make them: `mails/` holds one of each kind, written by hand."""

from email.message import EmailMessage
from email.policy import SMTP
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from watchdog.alerts.replies import MOST_BYTES, MOST_MARKS, MOST_WORDS, Reply, marks_in, read, words_in
from watchdog.alerts.reply_text import text_of_html
from watchdog.alerts.reply_words import allows, declines, of_layer

MAILS = Path(__file__).parent / "mails"
TOKEN = "AQFq-4XvAAAAAAAAAAMJZG9vcndheS0xCGhvdC1pZGxlDXdvcmtzaG9wLWxlYWQ_zBsH2Z9QxK3vR0uTn1aPw"
AUTOMATIC = {
    "vacation": "Auto-Submitted",
    "vacation-by-its-subject": "its subject",
    "bulk": "Precedence",
    "bounce": "a report",
    "read-receipt": "a report",
}
WORDS = {
    "ok": "ok",
    "attribution-over-two-lines": "I take it.",
    "below-the-quote": "I take it",
    "declined": "Not me, I am in the other building until noon.",
    "declined-in-portuguese": "Não, estou numa reunião.",
    "nothing-but-the-quote": "",
    "html-only": "On my way.",
    "html-set-apart-by-a-rule": "ok, coming",
    "base64": "estou a caminho",
    "latin-1-quoted-printable": "Já vou. É para já.",
    "unknown-charset": "ok",
    "wrapped-mark": "ok",
    "mark-in-the-subject": "I take it.",
    "headers-without-quote-signs": "Yes, going there.",
    "original-message": "yes",
    "with-a-picture": "I take it. A picture of it is attached.",
}


def mail(name: str) -> Reply:
    found = read((MAILS / f"{name}.eml").read_bytes())
    assert found is not None
    return found


@pytest.mark.parametrize("name", WORDS)
def test_an_answer_is_known_by_its_mark_and_says_what_the_person_wrote(name: str) -> None:
    """Whatever mail program somebody has: who answers 'ok' must not be reminded again."""
    found = mail(name)
    assert any(TOKEN in spelt for spelt in found.marks)
    assert found.words == WORDS[name]
    assert (found.automatic, found.answers, found.sender) == (None, True, "lead@example.org")


@pytest.mark.parametrize("name", AUTOMATIC)
def test_what_a_program_answers_is_known_as_such(name: str) -> None:
    """A vacation notice that took an alarm on would leave a hot nozzle to nobody."""
    assert mail(name).automatic == AUTOMATIC[name]


def test_every_mail_of_the_collection_is_judged_somewhere() -> None:
    others = {"our-own-mail", "forwarded", "no-mark", "forged-mark", "two-marks"}
    assert {file.stem for file in MAILS.glob("*.eml")} == WORDS.keys() | AUTOMATIC.keys() | others


@pytest.mark.parametrize("name", ["our-own-mail", "forwarded"])
def test_a_copy_of_our_own_mail_and_one_that_is_handed_on_are_no_answers(name: str) -> None:
    """The mark stands in them as we wrote it: the watch would answer itself."""
    found = mail(name)
    assert found.marks
    assert not found.answers


def test_a_mail_about_something_else_has_no_mark() -> None:
    assert mail("no-mark").marks == ()


def test_a_mark_that_was_changed_is_handed_on_as_it_is() -> None:
    """Whether it is forged is told by whoever holds the key."""
    (spelt,) = mail("forged-mark").marks
    assert TOKEN not in spelt


def test_an_answer_to_several_alarms_holds_the_marks_that_were_left_in_it() -> None:
    assert [spelt[0] for spelt in mail("two-marks").marks] == [TOKEN, TOKEN[::-1]]


def test_of_a_huge_mail_the_beginning_is_read() -> None:
    """A picture of the machine weighs some MB, and comes behind the words."""
    huge = EmailMessage(policy=SMTP)
    huge["Subject"], huge["From"] = "Re: HIGH", "lead@example.org"
    huge.set_content(f"ok\n\n> EW-{TOKEN}\n")
    huge.add_attachment(b"\x89" * 20 * MOST_BYTES, maintype="image", subtype="png", filename="nozzle.png")
    found = read(huge.as_bytes())
    assert found is not None
    assert (found.words, found.marks) == ("ok", ((TOKEN,),))


def test_a_mark_beyond_what_is_read_is_not_found() -> None:
    far = b"Subject: Re: x\n\n" + b"x\n" * MOST_BYTES + b"EW-" + TOKEN.encode()
    found = read(far)
    assert found is not None
    assert found.marks == ()


def test_an_attached_mail_is_not_searched() -> None:
    """An older message that somebody attached is not what is answered."""
    outer, inner = EmailMessage(), EmailMessage()
    inner.set_content(f"EW-{TOKEN}")
    outer["Subject"] = "Re: question"
    outer.set_content("What was this about?")
    outer.add_attachment(inner)
    outer.add_attachment(f"EW-{TOKEN}", filename="old.txt")
    found = read(outer.as_bytes())
    assert found is not None
    assert found.marks == ()


def test_no_more_marks_are_looked_at_than_a_message_has_lines_for() -> None:
    assert len(marks_in("\n".join(f"EW-{number:064d}" for number in range(1000)))) == MOST_MARKS


def test_words_are_kept_on_one_line_and_short() -> None:
    words = words_in("a\x1b[31m b\u202e\n" + "very " * 1000)
    assert len(words) <= MOST_WORDS
    assert words.isprintable()


def test_what_a_page_of_html_hides_is_not_read() -> None:
    page = "<style>EW-x{}</style><script>a()</script><p>one &amp; two<br>three</p><blockquote>four<br>five</blockquote>"
    assert text_of_html(page).split("\n") == ["", "one & two", "three", "", "> four", "> five", ""]


@pytest.mark.parametrize(
    "rubbish",
    [
        "<" * MOST_BYTES,
        "<!--" * (MOST_BYTES // 4),
        "<a " * (MOST_BYTES // 3),
        "&" * MOST_BYTES,
        "EW-" * (MOST_BYTES // 3),
        "From: " + "@" * MOST_BYTES,
        ("-" * 700 + "x\n") * 370,
        "> " * (MOST_BYTES // 2),
    ],
    ids=["tags", "comments", "open tags", "ampersands", "marks", "from", "dashes", "quotes"],
)
@pytest.mark.timeout(20)
def test_a_mail_that_is_made_to_be_slow_is_read_all_the_same(rubbish: str) -> None:
    """Anybody can write to the mailbox; none of these may keep it from the next answer. (Some 20 ms each; the limit is for
    what grows with the square of the length.)"""
    for kind in ("plain", "html"):
        found = read(f"Subject: Re: x\nContent-Type: text/{kind}\n\n{rubbish}".encode())
        assert found is not None


def test_parts_within_parts_without_end_are_given_up() -> None:
    nested = "".join(f'Content-Type: multipart/mixed; boundary="b{n}"\n\n--b{n}\n' for n in range(3000))
    found = read(f"Subject: Re: x\n{nested}\nEW-{TOKEN}\n".encode())
    assert found is None or found.marks == ()


@given(some.binary(max_size=3000))
def test_any_bytes_give_an_answer_or_none(raw: bytes) -> None:
    found = read(raw)
    assert found is None or len(found.words) <= MOST_WORDS


@given(some.data())
def test_a_mail_damaged_anywhere_gives_an_answer_or_none(data: some.DataObject) -> None:
    whole = (MAILS / f"{data.draw(some.sampled_from(sorted(WORDS)))}.eml").read_bytes()
    at = data.draw(some.integers(0, len(whole)))
    damaged = whole[:at] + data.draw(some.binary(max_size=40)) + whole[at + data.draw(some.integers(0, 40)) :]
    found = read(damaged)
    assert found is None or isinstance(found, Reply)


@pytest.mark.parametrize(
    "words",
    [
        "no",
        "No.",
        "Not me",
        "não",
        "Nao posso",
        "NOPE",
        "Hi, I can't come",
        "Bom dia, não estou na escola",
        "Sorry, can’t",
        "I cannot go there before noon",
        "Hello all, not here today",
        "No problem, I take it",
        "é com outra pessoa",
    ],
)
def test_what_sounds_like_a_no_takes_nothing_on(words: str) -> None:
    """In doubt the alarm goes on being told: a message too many costs less than a nozzle that nobody looks after."""
    assert declines(words)
    assert not allows(words)


@pytest.mark.parametrize(
    "words",
    ["ok", "I take it", "", "On my way", "Now.", "note: going there", "já vou", "Noted", "👍", "Vou já. Nada de mais"],
)
def test_anything_else_takes_it_on(words: str) -> None:
    assert not declines(words)


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        *((words, True) for words in ("allow", "Allow, I stay", "I'll stay", "Autorizo.", "Olá, fico eu")),
        *((words, False) for words in ("ok", "", "do not allow", "I'll stay but can't be there")),
    ],
)
def test_a_job_is_allowed_only_where_it_is_said(words: str, meant: bool) -> None:
    assert allows(words) is meant


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        *((words, "good") for words in ("Good!", "ok", "boa", "Fine, it sticks")),
        *((words, "bad") for words in ("bad: it curls", "Má", "not good")),
        *((words, "skipped") for words in ("not looked at", "não vi", "skip")),
        *((words, None) for words in ("which one?", "", "goodness")),
    ],
)
def test_how_a_first_layer_looks_is_read_from_the_first_word(words: str, meant: str | None) -> None:
    assert of_layer(words) == meant
