"""Answers that are none: what a network says in the place of the service that was asked.

A captive portal or a filter takes a request over and answers 200 with its own web page, or sends on to one. The delivery
library takes the 200 for the service's. Over a connection whose certificate is the service's own nobody can do that; so what
is looked at is plain HTTP, HTTPS on a network that looks into it, and HTTPS that is not verified. A service that answers
with a few words, even as text/html, is believed: only a whole web page is not.

    POST http://…  →  200 text/html  <!doctype html>…           a sign-in page
    POST http://…  →  302 Location: http://other.example/…      a sign-in page
    POST http://h/ →  301 Location: https://h/                  the message is lost: the next request is a GET without it
    any            →  511 (RFC 6585, section 6)                 the network wants a sign-in
    any            →  407 (RFC 9110, section 15.5.8)            the proxy wants a sign-in
"""

from typing import NamedTuple
from urllib.parse import SplitResult, urljoin, urlsplit

from watchdog.alerts.causes import Cause

SIGNS = {
    Cause.SIGN_IN_PAGE: "a sign-in page of the network answered",
    Cause.SENT_ON: "the address sends on elsewhere",
    Cause.PROXY_SIGN_IN: "407 proxy authentication required",
}
"""what is said of each; `verdict` knows it again"""
_REDIRECTS = frozenset({301, 302, 303, 307, 308})
_DROPS_BODY = frozenset({301, 302, 303})  # after these a POST becomes a GET: RFC 9110, section 15.4, note
_PAGE = (b"<!doctype html", b"<html", b"<head", b"<?xml version", b"<meta http-equiv")


class Answer(NamedTuple):
    """One HTTP answer, before any redirection is followed."""

    method: str
    address: str
    status: int
    location: str | None
    kind: str
    """its Content-Type"""
    start: bytes
    """the beginning of its content"""


def stood_in(answer: Answer, verified: bool) -> Cause | None:
    """What answered in the service's place; None: the service. `verified`: the certificate is the service's own."""
    if answer.status == 511:
        return Cause.SIGN_IN_PAGE
    if answer.status == 407:
        return Cause.PROXY_SIGN_IN
    if answer.status in _REDIRECTS and answer.location:
        return _sent_on(answer, verified)
    if 200 <= answer.status < 300 and not verified and is_page(answer):
        return Cause.SIGN_IN_PAGE
    return None


def is_page(answer: Answer) -> bool:
    """Whether it is a whole web page, rather than a word or two."""
    start = answer.start[:512].removeprefix(b"\xef\xbb\xbf").lstrip().lower()
    if not start.startswith(_PAGE):
        return False
    return "html" in answer.kind.lower() or start.startswith((b"<!doctype html", b"<html"))


def _sent_on(answer: Answer, verified: bool) -> Cause | None:
    try:
        asked, there = urlsplit(answer.address), urlsplit(urljoin(answer.address, answer.location or ""))
        near = _near(asked, there)
    except ValueError:
        return None  # the library says what is wrong with it
    if not near and not verified:
        return Cause.SIGN_IN_PAGE
    if answer.method == "GET" or answer.status not in _DROPS_BODY:
        return None
    moved = answer.status == 301 or (asked.scheme == "http" and there.scheme == "https")
    return Cause.SENT_ON if moved or not near else None  # else a form's own 'see other' after it took the message


def _near(asked: SplitResult, there: SplitResult) -> bool:
    """Whether both are of one house: the same host, or one with the same last two labels."""
    return (asked.hostname or "").split(".")[-2:] == (there.hostname or "").split(".")[-2:]
