"""What became of one attempt, read from what the delivery library said about it.

The library tells success from failure, but a permanent refusal only in the text of its log records, at the level DEBUG:

    Socket Exception: (550, b'5.1.1 no such mailbox')          the mail server refused the message or the log-in
    Socket Exception: {'b@example.org': (550, b'…')}           it refused every recipient
    SMTP recipient b@example.org was refused: 550 b'…'         it refused one of them
    Failed to send JSON POST notification: …, error=404.       an HTTP server's status

Seen with Apprise 2.3.0. Such text can change; what is not recognised therefore counts as a failure that may pass, and is
tried again. Permanent: SMTP 5xx (RFC 5321, 4.2.1) and HTTP 4xx apart from 408, 425 and 429 (RFC 9110; RFC 8470; RFC 6585).
"""

import re
from collections.abc import Iterable
from typing import NamedTuple
from urllib.parse import unquote_plus

from watchdog.record.parcels import Outcome

_SMTP = re.compile(r"\((?P<code>[245]\d\d), (?P<said>b?(?:'(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\"))")
_RECIPIENT = re.compile(r"^SMTP recipient .* was refused: (?P<code>[245]\d\d) (?P<said>b?'.*')$")
_HTTP = re.compile(r"\berror[=:]\s*(?P<code>[1-5]\d\d)\b")
_PASSING = frozenset({408, 425, 429})

_REASONS = (
    ("certificate", "its certificate was not accepted"),
    ("connection refused", "nothing answers there: connection refused"),
    ("name or service not known", "its name is not known: no network, or a wrong host name"),
    ("failed to resolve", "its name is not known: no network, or a wrong host name"),
    ("temporary failure in name resolution", "its name cannot be looked up: no network"),
    ("unreachable", "no way there: network unreachable"),
    ("no route to host", "no way there: network unreachable"),
    ("timed out", "no answer in time"),
    ("connection unexpectedly closed", "it closed the connection"),
    ("connection reset", "it closed the connection"),
    ("connection aborted", "it closed the connection"),
    ("remote end closed", "it closed the connection"),
    ("starttls", "it offers no encryption (STARTTLS)"),
)

_ADDRESS = re.compile(r"[^\s<>()\"',;]+@[^\s<>()\"',;]+")
_URL = re.compile(r"\b[a-z][a-z0-9+.-]*://\S+", re.IGNORECASE)
_PARTS = re.compile(r"[^A-Za-z0-9_.~+-]+")


class Verdict(NamedTuple):
    """One attempt, judged."""

    outcome: Outcome
    detail: str
    """in words, without secrets"""


def judge(delivered: bool, late: bool, records: Iterable[str], url: str) -> Verdict:
    """`delivered` and `late` (no answer within the limit) as the library says; `records` are its log records."""
    if delivered:
        return Verdict(Outcome.DELIVERED, "taken by the server")
    if late:
        return Verdict(Outcome.FAILED, "no answer in time")
    told = list(records)
    refusals = [
        (int(found["code"]), found["said"])
        for text in told
        for found in ([*_SMTP.finditer(text)] if text.startswith("Socket Exception:") else [*_RECIPIENT.finditer(text)])
    ]
    if refusals:
        # one recipient who may still be reached makes it worth another try
        code, said = min(refusals)
        outcome = Outcome.REFUSED if code >= 500 else Outcome.FAILED
        return Verdict(outcome, redact(f"mail server said {code} {_unquoted(said)}".strip(), url))
    statuses = [int(found["code"]) for text in told for found in _HTTP.finditer(text)]
    if statuses:
        passing = [status for status in statuses if not 400 <= status < 500 or status in _PASSING]
        return Verdict(Outcome.FAILED if passing else Outcome.REFUSED, f"HTTP {(passing or statuses)[0]}")
    return Verdict(Outcome.FAILED, _reason(told))


def _reason(records: list[str]) -> str:
    """Our own words for a known cause. The records themselves are not passed on: they hold addresses and tokens."""
    everything = "\n".join(records).lower()
    for sign, words in _REASONS:
        if sign in everything:
            return words
    return "the service did not take it and gave no code"


def _unquoted(said: str) -> str:
    text = said.removeprefix("b")[1:-1]
    return " ".join(text.replace("\\n", " ").replace("\\r", " ").split())[:200]


def redact(text: str, url: str) -> str:
    """`text` without addresses and without any part of `url` that could be a secret."""
    text = _ADDRESS.sub("…", _URL.sub("…", text))
    parts = {part for form in (url, unquote_plus(url)) for part in _PARTS.split(form) if len(part) >= 4}
    for part in sorted(parts, key=len, reverse=True):
        text = text.replace(part, "…")
    return text
