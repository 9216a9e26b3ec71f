"""A calendar's bytes from its file or its address. Blocks; the service does it in a child process (`asking`).

An address is a secret: many a calendar's is all that it takes to read it. No message holds more of it than the host, and on
the way a redirection never leads from https to http nor past `MOST_REDIRECTIONS`, and a password never to another host.
"""

import base64
import http.client
import os
import stat
import urllib.error
import urllib.request
from collections.abc import Callable
from http import HTTPStatus
from typing import IO, NamedTuple
from urllib.parse import SplitResult, unquote, urlsplit, urlunsplit

from watchdog.timetable.faults import SourceAway
from watchdog.timetable.lines import LARGEST, is_web_page
from watchdog.timetable.options import Source
from watchdog.timetable.refusals import ASK, portal, told, why
from watchdog.web import BadRoot, opener

MOST_REDIRECTIONS = 5
"""in a row; a calendar's address needs one or two; common practice, no source"""
_PIECE = 65536


class Validators(NamedTuple):
    """What a server said of the copy that is there (RFC 9110, section 8.8); None where it said nothing."""

    etag: str | None = None
    last_modified: str | None = None


class Fetched(NamedTuple):
    """What has come."""

    content: bytes | None
    """None: the server says that the copy is still the same"""
    validators: Validators = Validators()


def fetch(
    source: Source, validators: Validators, seconds: float, elapsed: Callable[[], float], largest: int = LARGEST
) -> Fetched:
    """The calendar as it is now. `seconds` bounds each wait and the whole, by `elapsed`. Raises SourceAway."""
    if source.file is not None:
        return Fetched(_from_file(source, largest))
    return _from_address(source, validators, seconds, elapsed, largest)


def host(address: str) -> str:
    """The host of an address: all of it that may be said."""
    try:
        return urlsplit(address).hostname or "the address"
    except ValueError:
        return "the address"


def _from_file(source: Source, largest: int) -> bytes:
    assert source.file is not None
    try:
        descriptor = os.open(source.file, os.O_RDONLY | os.O_CLOEXEC | os.O_NONBLOCK)  # a pipe must not hold us
        with open(descriptor, "rb") as opened:
            if not stat.S_ISREG(os.fstat(descriptor).st_mode):
                raise SourceAway(f"{source.file} is no file. Name the calendar's file, which ends in .ics")
            return opened.read(largest + 1)  # one more: the reader says that it is too large
    except OSError as wrong:
        reason = wrong.strerror or type(wrong).__name__
        raise SourceAway(f"{source.file} cannot be read: {reason}. Put it there, readable for the watch") from None


def _from_address(
    source: Source, validators: Validators, seconds: float, elapsed: Callable[[], float], largest: int
) -> Fetched:
    assert source.address is not None
    began, name = elapsed(), host(source.address)
    try:
        request = _request(source.address, validators)
        with _opener(source).open(request, timeout=seconds) as answer:
            if answer.headers.get("Content-Encoding", "identity").lower() != "identity":
                raise SourceAway(f"{name} sent it compressed, though plain was asked for. {ASK}")
            content = b""
            while len(content) <= largest and (piece := answer.read1(_PIECE)):
                content += piece
                if elapsed() - began > seconds:
                    raise SourceAway(f"{name} is too slow: nothing whole within {seconds:g} s. {ASK}")
            length = answer.headers.get("Content-Length", "")
            if length.isdecimal() and len(content) < min(int(length), largest):
                raise SourceAway(f"{name} broke off in the middle. {ASK}")
            if is_web_page(content) or "html" in answer.headers.get("Content-Type", ""):
                raise SourceAway(portal(name))
            return Fetched(content, Validators(answer.headers.get("ETag"), answer.headers.get("Last-Modified")))
    except urllib.error.HTTPError as refused:
        refused.close()
        if refused.code == HTTPStatus.NOT_MODIFIED:
            return Fetched(None, validators)
        raise SourceAway(told(name, refused.code)) from None
    except urllib.error.URLError as wrong:
        raise SourceAway(why(name, wrong.reason, seconds)) from None
    except (OSError, ValueError, http.client.HTTPException) as wrong:
        raise SourceAway(why(name, wrong, seconds)) from None


def _request(address: str, validators: Validators) -> urllib.request.Request:
    """What is asked; ValueError where the address cannot be used."""
    parts = urlsplit(address.strip())
    scheme = {"webcal": "https", "webcals": "https"}.get(parts.scheme.lower(), parts.scheme.lower())
    if scheme not in {"http", "https"} or not parts.hostname:
        raise ValueError("no address of a calendar")
    bare = parts.netloc.rpartition("@")[2]
    request = urllib.request.Request(urlunsplit((scheme, bare, parts.path or "/", parts.query, "")))
    request.add_header("Accept", "text/calendar, */*;q=0.1")
    request.add_header("Accept-Encoding", "identity")
    request.add_header("User-Agent", "emberward")
    if validators.etag is not None:
        request.add_header("If-None-Match", validators.etag)
    if validators.last_modified is not None:
        request.add_header("If-Modified-Since", validators.last_modified)
    if parts.username is not None:
        request.add_unredirected_header("Authorization", _basic(parts))
    return request


def _basic(parts: SplitResult) -> str:
    """Name and password of an address as RFC 7617 sends them."""
    pair = f"{unquote(parts.username or '')}:{unquote(parts.password or '')}"
    return "Basic " + base64.b64encode(pair.encode()).decode("ascii")


def _opener(source: Source) -> urllib.request.OpenerDirector:
    try:
        return opener(source.proxy, source.root, _Redirections())
    except BadRoot as bad:
        raise SourceAway(f"{bad}. Put it there as PEM, readable for the watch") from None


class _Redirections(urllib.request.HTTPRedirectHandler):
    """A few redirections, never to where others on the network could read along."""

    max_repeats = 2
    max_redirections = MOST_REDIRECTIONS

    def redirect_request(
        self,
        req: urllib.request.Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: http.client.HTTPMessage,
        newurl: str,
    ) -> urllib.request.Request | None:
        there = urlsplit(newurl)
        if there.scheme not in {"http", "https"} or (req.type == "https" and there.scheme != "https"):
            fp.close()
            raise SourceAway(f"{host(req.full_url)} sends on to an address without encryption. {ASK}")
        follow = super().redirect_request(req, fp, code, msg, headers, newurl)
        pass_on = req.get_header("Authorization")
        if follow is not None and pass_on and (follow.type, follow.host) == (req.type, urlsplit(req.full_url).netloc):
            follow.add_unredirected_header("Authorization", pass_on)
        return follow
