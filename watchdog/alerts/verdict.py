"""What became of one attempt, read from what the delivery library said about it.

The library tells success from failure, but a permanent refusal only in the text of its log records, at the level DEBUG:

    Socket Exception: (550, b'5.1.1 no such mailbox')          the mail server refused the message or the log-in
    Socket Exception: {'b@example.org': (550, b'…')}           it refused every recipient
    SMTP recipient b@example.org was refused: 550 b'…'         it refused one of them
    Failed to send JSON POST notification: …, error=404.       an HTTP server's status

Seen with Apprise 2.3.0. Such text can change; what is not recognised therefore counts as a failure that may pass, and is
tried again. Permanent: SMTP 5xx (RFC 5321, 4.2.1) and HTTP 4xx apart from 408, 425 and 429 (RFC 9110; RFC 8470; RFC 6585).
Records that repeat what was sent ("… Payload: …") are passed over: they hold the machine's words, not the server's.
"""

import re
from collections.abc import Iterable
from typing import NamedTuple
from urllib.parse import unquote_plus

from watchdog.alerts.causes import Cause
from watchdog.alerts.portal import SIGNS
from watchdog.record.parcels import Outcome

_SMTP = re.compile(r"\((?P<code>[245]\d\d), (?P<said>b?(?:'(?:[^'\\]|\\.)*'|\"(?:[^\"\\]|\\.)*\"))")
_RECIPIENT = re.compile(r"^SMTP recipient .* was refused: (?P<code>[245]\d\d) (?P<said>b?'.*')$")
_HTTP = re.compile(r"\berror[=:]\s*(?P<code>[1-5]\d\d)\b")
_PASSING = frozenset({408, 425, 429})

_OURS = re.compile(r"^[^:]*\bpayload\b", re.IGNORECASE)
_RELAY = re.compile(r"relay", re.IGNORECASE)
_NO_SIGN_IN = frozenset({530, 534, 535, 538})  # RFC 4954, sections 4 and 6

_REASONS = (
    (SIGNS[Cause.SIGN_IN_PAGE], "a sign-in page of the network answered in the service's place", Cause.SIGN_IN_PAGE),
    (SIGNS[Cause.SENT_ON], "its address leads on to another one, and the message is lost on the way", Cause.SENT_ON),
    ("407 proxy authentication", "the network's proxy wants a name and a password", Cause.PROXY_SIGN_IN),
    ("tunnel connection failed: 407", "the network's proxy wants a name and a password", Cause.PROXY_SIGN_IN),
    ("tunnel connection failed", "the network's proxy does not let it through", Cause.PROXY),
    ("connect to proxy", "the network's proxy cannot be reached", Cause.PROXY),
    ("certificate has expired", "its certificate has expired", Cause.EXPIRED),
    (
        "certificate is not yet valid",
        "its certificate is not valid yet: this computer's clock may be wrong",
        Cause.TOO_EARLY,
    ),
    ("hostname mismatch", "its certificate is for another name", Cause.OTHER_NAME),
    ("ip address mismatch", "its certificate is for another name", Cause.OTHER_NAME),
    ("doesn't match", "its certificate is for another name", Cause.OTHER_NAME),
    ("unable to get local issuer", "its certificate is signed by somebody who is not trusted here", Cause.UNKNOWN_ROOT),
    ("unable to get issuer", "its certificate is signed by somebody who is not trusted here", Cause.UNKNOWN_ROOT),
    ("self signed certificate", "its certificate is signed by somebody who is not trusted here", Cause.UNKNOWN_ROOT),
    ("self-signed certificate", "its certificate is signed by somebody who is not trusted here", Cause.UNKNOWN_ROOT),
    ("certificate", "its certificate was not accepted", Cause.CERTIFICATE),
    ("connection refused", "nothing answers there: connection refused", Cause.CLOSED),
    ("name or service not known", "its name is not known: no network, or a wrong host name", Cause.NO_NAME),
    ("failed to resolve", "its name is not known: no network, or a wrong host name", Cause.NO_NAME),
    ("no address associated", "its name is not known: no network, or a wrong host name", Cause.NO_NAME),
    ("temporary failure in name resolution", "its name cannot be looked up: no network", Cause.NO_NAME),
    ("unreachable", "no way there: network unreachable", Cause.NO_WAY),
    ("no route to host", "no way there: network unreachable", Cause.NO_WAY),
    ("connect timeout", "no connection comes about", Cause.BLOCKED),
    ("timed out", "no answer in time", Cause.SILENT),
    ("starttls extension not supported", "it offers no encryption (STARTTLS)", Cause.NO_TLS),
    ("wrong version number", "it speaks no TLS on this port", Cause.NO_TLS),
    ("record layer failure", "it speaks no TLS on this port", Cause.NO_TLS),
    ("handshake failure", "no common encryption was found", Cause.NO_TLS),
    ("unsupported protocol", "no common encryption was found", Cause.NO_TLS),
    ("connection unexpectedly closed", "it closed the connection", Cause.CUT),
    ("connection reset", "it closed the connection", Cause.CUT),
    ("connection aborted", "it closed the connection", Cause.CUT),
    ("remote end closed", "it closed the connection", Cause.CUT),
    ("eof occurred", "it closed the connection", Cause.CUT),
    ("starttls", "it offers no encryption (STARTTLS)", Cause.NO_TLS),
)
"""a sign in the records, our words for it, what it means; the first that fits counts"""

_ADDRESS = re.compile(r"[^\s<>()\"',;]+@[^\s<>()\"',;]+")
_URL = re.compile(r"\b[a-z][a-z0-9+.-]*://\S+", re.IGNORECASE)
_PARTS = re.compile(r"[^A-Za-z0-9_.~+-]+")


class Verdict(NamedTuple):
    """One attempt, judged."""

    outcome: Outcome
    detail: str
    """in words, without secrets"""
    cause: Cause | None = None
    """what stood in the way; None: nothing, or it cannot be told"""


def judge(delivered: bool, late: bool, records: Iterable[str], url: str) -> Verdict:
    """`delivered` and `late` (no answer within the limit) as the library says; `records` are its log records."""
    if delivered:
        return Verdict(Outcome.DELIVERED, "taken by the server")
    if late:
        return Verdict(Outcome.FAILED, "no answer in time", Cause.SILENT)
    told = [text for text in records if not _OURS.match(text)]
    refusals = [
        (int(found["code"]), found["said"])
        for text in told
        for found in ([*_SMTP.finditer(text)] if text.startswith("Socket Exception:") else [*_RECIPIENT.finditer(text)])
    ]
    if refusals:
        # one recipient who may still be reached makes it worth another try
        code, said = min(refusals)
        outcome = Outcome.REFUSED if code >= 500 else Outcome.FAILED
        return Verdict(outcome, redact(f"mail server said {code} {_unquoted(said)}".strip(), url), _of_mail(code, said))
    statuses = [int(found["code"]) for text in told for found in _HTTP.finditer(text)]
    if statuses:
        passing = [status for status in statuses if not 400 <= status < 500 or status in _PASSING]
        status = (passing or statuses)[0]
        cause = Cause.SIGN_IN if status in (401, 403) else None
        return Verdict(Outcome.FAILED if passing else Outcome.REFUSED, f"HTTP {status}", cause)
    return _by_reason(told)


def _of_mail(code: int, said: str) -> Cause | None:
    if code in _NO_SIGN_IN:
        return Cause.SIGN_IN
    return Cause.NO_RELAY if code >= 500 and _RELAY.search(said) else None


def _by_reason(records: list[str]) -> Verdict:
    """Our own words for a known cause. The records themselves are not passed on: they hold addresses and tokens."""
    everything = "\n".join(records).lower()
    for sign, words, cause in _REASONS:
        if sign in everything:
            return Verdict(Outcome.FAILED, words, cause)
    return Verdict(Outcome.FAILED, "the service did not take it and gave no code")


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
