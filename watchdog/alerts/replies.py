"""Reads a mail that somebody sent back: whether a person wrote it, what mark of ours it carries, what the person says.

    Subject: Re: ■ HIGH Cool the nozzle or start the job.
    In-Reply-To: <…>

    ok, I am on my way                                    words: what stands above the quoted mail, else below it
    On Mon, 2 Mar 2026 at 09:31, the watch wrote:
    > To take it on, answer this mail and leave this line: EW-AQFpq…
                                                           the mark; what follows EW- is signed, see `claims` of the service

Nothing here decides anything. Who answers is told by the mark alone: anybody can write any address behind From.
Sources: automatic answers RFC 3834 section 5 and RFC 5230 section 4.6; bounces RFC 3464 section 2; the header Precedence and
the subjects of automatic answers: common practice, no source. Seen in: tests/alerts/mails/.
"""

import re
from email import message_from_bytes
from email.message import Message
from email.utils import getaddresses
from typing import NamedTuple

from watchdog.alerts.reply_text import RULE, header, texts

MOST_BYTES = 256 * 1024
"""of one mail that are read; the text stands before pictures"""
MOST_WORDS = 200
"""characters kept of what somebody wrote"""
MARK = "EW-"
"""what a mark begins with"""
MOST_MARKS = 8
"""looked at in one mail"""

_TOKEN = re.compile(r"[A-Za-z0-9_-]{1,400}")
_QUOTE = re.compile(r"[>|\s]{0,40}")
_LEAST = 20  # characters behind EW-: shorter is a word of somebody's
_ANSWER = re.compile(r"\s*(?:re|res|r|aw|antw|sv|vs|odp|rif)(?:\[\d+\])?\s*:", re.IGNORECASE)
_FORWARD = re.compile(r"\s*(?:fwd?|enc|wg|tr|rv)\s*:", re.IGNORECASE)
_AUTOMATIC = re.compile(
    r"\s*(?:auto(?:matic)?[ -]?(?:reply|response)?:|automatic (?:reply|response)|out of (?:the )?office|vacation\b|"
    r"resposta autom|ausência|ausente\b|undeliver|delivery status|mail delivery|returned mail)",
    re.IGNORECASE,
)
_APART = re.compile(rf"\s*(?:-{{3,10}}[^-]{{1,60}}-{{3,10}}|{RULE}_*)\s*\Z")
_WROTE = re.compile(r"\s*\*?(?:from|de|von|da)\s?:", re.IGNORECASE)
_WHEN = re.compile(
    r"\s*\*?(?:sent|date|to|subject|enviad[ao]|data|para|assunto|gesendet|datum|an|betreff)\s?:", re.IGNORECASE
)


class Reply(NamedTuple):
    """What a mail says."""

    marks: tuple[tuple[str, ...], ...]
    """each mark as it may be spelt: a mail program may have broken it over lines"""
    words: str
    """of the person, on one line, at most `MOST_WORDS` characters; '' where there are none"""
    sender: str
    """address behind From in lower case: anybody can write it; '' where there is none"""
    automatic: str | None
    """by what it shows that a program wrote it; None: it does not show"""
    answers: bool
    """it is the answer to a mail, and neither handed on nor a copy of our own"""


def read(raw: bytes) -> Reply | None:
    """What the mail `raw` says; of a longer one the first `MOST_BYTES` count. None: it cannot be read. Never raises."""
    try:
        return _read(message_from_bytes(raw[:MOST_BYTES]))
    except Exception:  # the library meets rubbish with exceptions of many kinds
        return None


def _read(mail: Message) -> Reply | None:
    if not mail.keys():
        return None
    found = texts(mail)
    marks = next(filter(None, map(marks_in, (*found, header(mail, "Subject")))), ())
    return Reply(marks, next(filter(None, map(words_in, found)), ""), _sender(mail), _automatic(mail), _answers(mail))


def marks_in(text: str) -> tuple[tuple[str, ...], ...]:
    """The marks in `text` without their EW-, each once."""
    found: list[tuple[str, ...]] = []
    at = text.find(MARK)
    while at >= 0 and len(found) < MOST_MARKS:
        at += len(MARK)
        spelt = _spellings(text, at)
        if spelt and spelt not in found:
            found.append(spelt)
        at = text.find(MARK, at)
    return tuple(found)


def _spellings(text: str, at: int) -> tuple[str, ...]:
    """What can be meant by the mark at `at`: its line, and its line with the beginnings of the next two."""
    spelt, found = "", []
    for _ in range(3):
        piece = _TOKEN.match(text, at)
        if piece is None:
            break
        spelt += piece[0]
        if len(spelt) >= _LEAST:
            found.append(spelt)
        end = _QUOTE.match(text, piece.end())
        if end is None or "\n" not in end[0]:
            break
        at = end.end()
    return tuple(found)


def words_in(text: str) -> str:
    """What the person wrote: above the quoted mail, or where nothing stands there, below it."""
    lines = text.splitlines()
    ends = next((number for number in range(len(lines)) if _begins_quote(lines, number)), len(lines))
    above, rest = lines[:ends], lines[ends:]
    if rest and rest[0].lstrip().startswith(">"):
        above = _without_attribution(above)
        if not _joined(above):
            return _joined([line for line in rest if not line.lstrip().startswith(">") and MARK not in line])
    return _joined(above)


def _begins_quote(lines: list[str], number: int) -> bool:
    line = lines[number]
    if line.lstrip().startswith(">") or MARK in line or _APART.match(line[:800]):
        return True
    # the headers of the quoted mail, without any sign before them
    return _WROTE.match(line) is not None and any(map(_WHEN.match, lines[number + 1 : number + 3]))


def _without_attribution(lines: list[str]) -> list[str]:
    """Without the line or two that say who wrote what is quoted: they end in a colon."""
    kept = [line.strip() for line in lines]
    while kept and not kept[-1]:
        kept.pop()
    if not kept or not kept[-1].endswith(":"):
        return kept
    kept.pop()
    # a long one is broken over lines, and then its first line holds a date or an address
    if kept and kept[-1] and re.search(r"\d{4}|@|<", kept[-1]):
        kept.pop()
    return kept


def _joined(lines: list[str]) -> str:
    own: list[str] = []
    for line in lines:
        if line.rstrip() == "--":  # a signature follows (RFC 3676, section 4.3)
            break
        own.append(line)
    words = " ".join(" ".join(own).split())
    return "".join(letter if letter.isprintable() else " " for letter in words[:MOST_WORDS]).strip()


def _sender(mail: Message) -> str:
    found = getaddresses([header(mail, "From")])
    return found[0][1].strip().lower() if found else ""


def _automatic(mail: Message) -> str | None:
    said = header(mail, "Auto-Submitted").lower()
    if said and said.partition(";")[0].strip() != "no":
        return "Auto-Submitted"
    if header(mail, "Precedence").lower() in {"bulk", "junk", "list", "auto_reply"}:
        return "Precedence"
    if mail.get_content_type() in {"multipart/report", "message/delivery-status", "message/disposition-notification"}:
        return "a report"
    if any(mail.get(name) is not None for name in ("X-Autoreply", "X-Autorespond", "X-Failed-Recipients")):
        return "a header of answering programs"
    if header(mail, "Return-Path") == "<>":
        return "no return path"
    if _sender(mail).partition("@")[0] in {"mailer-daemon", "postmaster", "noreply", "no-reply"}:
        return "its sender"
    return "its subject" if _AUTOMATIC.match(header(mail, "Subject")) else None


def _answers(mail: Message) -> bool:
    subject = header(mail, "Subject")
    if _FORWARD.match(subject):
        return False
    referring = mail.get("In-Reply-To") is not None or mail.get("References") is not None
    return referring or _ANSWER.match(subject) is not None
