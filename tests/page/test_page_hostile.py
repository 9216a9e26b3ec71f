"""What is refused: forged, expired, cut off, for another watch, too much, no HTTP; and scanners that open every link."""

import http.client
import socket
from collections.abc import Callable, Iterator
from typing import Any
from urllib.parse import quote_from_bytes

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from structlog.testing import capture_logs

from watchdog.page.links import Key, Purpose

Serve = Callable[..., Any]
TAP = "answer=acknowledge"
SCANNERS: list[tuple[str, dict[str, str]]] = [
    ("GET", {}),
    ("HEAD", {}),
    ("GET", {"Purpose": "prefetch", "X-Purpose": "preview"}),
    ("GET", {"Sec-Purpose": "prefetch;prerender"}),
    ("GET", {"User-Agent": "mail link scanner", "Accept": "*/*", "Range": "bytes=0-1023"}),
    ("GET", {"X-HTTP-Method-Override": "POST", "X-HTTP-Method": "POST"}),
]


def raw(port: int, sent: bytes) -> bytes:
    """Everything that comes back for `sent`, until the page closes."""
    with socket.create_connection(("127.0.0.1", port), timeout=30) as asking:
        asking.sendall(sent)
        asking.shutdown(socket.SHUT_WR)
        told = b""
        try:
            while part := asking.recv(65536):
                told += part
        except ConnectionError:
            pass
        return told


def untouched(page: Any) -> bool:
    """Whether nothing was done and everything is still open."""
    return page.workshop.acts == [] and all(one.standing == "open" for one in page.workshop.standing.values())


@pytest.mark.parametrize(("method", "headers"), SCANNERS)
def test_who_only_opens_a_link_changes_nothing(serve: Serve, method: str, headers: dict[str, str]) -> None:
    """Mail scanners and previews open each link in each mail, some of them several times."""
    page = serve()
    for purpose in Purpose:
        for _ in range(3):
            assert page.ask(method, page.path(page.claim(purpose)), **headers).status == 200
    assert untouched(page)
    assert set(page.page.counts) == {"shown"}


def test_a_head_has_the_headers_of_the_page_and_no_page(serve: Serve) -> None:
    page = serve()
    reply = page.ask("HEAD", page.path())
    assert reply.text == ""
    assert int(reply.headers["content-length"]) > 1000


@pytest.mark.parametrize("method", ["OPTIONS", "PUT", "DELETE", "PATCH", "TRACE", "PROPFIND", "post", "X" * 50])
def test_other_methods_are_refused_and_told_which_there_are(serve: Serve, method: str) -> None:
    page = serve()
    reply = page.ask(method, page.path(), TAP)
    assert reply.status == 405
    assert reply.headers["allow"] == "GET, HEAD, POST"
    assert "Nothing was changed." in reply.text
    assert untouched(page)
    assert page.page.counts["wrong-method"] == 1


def links(page: Any) -> Iterator[tuple[str, str, int]]:
    """Each kind of bad link, how it is counted, and its status."""
    good = page.path()
    yield page.path(key=Key(b"x" * 32)), "forged", 404
    yield good[:-1] + ("A" if good[-1] != "A" else "Q"), "forged", 404
    yield good[:-4], "forged", 404
    yield good[:20], "damaged", 404
    yield "/a/", "damaged", 404
    yield good + "%3D", "damaged", 404
    yield good + "/", "damaged", 404
    yield "/a/" + "A" * 401, "damaged", 404
    yield "/a/..%2F..%2Fetc%2Fpasswd", "damaged", 404
    yield page.path(page.claim(expires=int(page.clock.now().stamp))), "expired", 410
    yield page.path(page.claim(number=2)), "unknown", 404
    yield page.path(page.claim(machine="loft-1")), "unknown", 404
    yield "/a", "no-such-page", 404
    yield "/b/" + good[3:], "no-such-page", 404
    yield "//" + good[1:], "no-such-page", 404
    yield "/favicon.ico", "no-such-page", 404


@pytest.mark.parametrize("which", range(16))
@pytest.mark.parametrize("method", ["GET", "POST"])
def test_a_link_that_is_none_of_ours_is_refused_logged_and_counted(serve: Serve, which: int, method: str) -> None:
    page = serve()
    path, why, status = list(links(page))[which]
    with capture_logs() as lines:
        reply = page.ask(method, path, TAP if method == "POST" else None)
    assert reply.status == status
    assert "<button" not in reply.text
    assert reply.text.count("<h1>") == 1
    assert untouched(page)
    assert dict(page.page.counts) == {why: 1}
    (line,) = lines
    assert (line["event"], line["why"], line["asker"], line["log_level"]) == (
        "page refused",
        why,
        "127.0.0.1",
        "warning",
    )
    token = path.removeprefix("/a/")[:16]
    assert len(token) < 16 or token not in str(line), "the log holds no link"


def test_all_kinds_of_bad_links_are_tried(serve: Serve) -> None:
    assert len(list(links(serve()))) == 16


def test_an_expired_link_tells_what_it_was_about_and_what_to_do(serve: Serve) -> None:
    page = serve()
    reply = page.ask("GET", page.path(page.claim(expires=5)))
    assert "This link has expired" in reply.text
    assert "doorway-1" in reply.text
    assert "What to do stands in the message itself." in reply.text


def test_links_of_the_key_before_still_work_and_older_ones_do_not(serve: Serve) -> None:
    old, older = Key(b"o" * 32), Key(b"p" * 32)
    page = serve(key=Key(b"n" * 32, old.now))
    assert page.ask("GET", page.path(key=older)).status == 404
    assert page.tap(page.path(key=old)).status == 200
    assert len(page.workshop.acts) == 1


@pytest.mark.parametrize(
    "body",
    [
        b"",
        b"answer",
        b"answer=",
        b"answer=good",
        b"answer=acknowledge&answer=acknowledge",
        b"answer=acknowledge&x=y",
        b"x=y",
        b"\xff\xfe\x00",
        b"%",
        b"&" * 500,
        b'{"answer": "acknowledge"}',
        b"answer=" + b"a" * 1000,
    ],
)
def test_a_post_without_the_button_s_word_does_nothing(serve: Serve, body: bytes) -> None:
    page = serve()
    reply = page.ask("POST", page.path(), body)
    assert reply.status == 400
    assert untouched(page)
    assert page.page.counts["malformed"] == 1


def test_too_much_is_refused(serve: Serve) -> None:
    page = serve()
    reply = page.ask("POST", page.path(), TAP + "&x=" + "y" * 2000)
    assert reply.status == 413
    assert "That was too much" in reply.text
    assert untouched(page)
    assert page.tap(page.path()).status == 200


def test_too_much_in_parts_is_refused_before_all_of_it_has_come(serve: Serve) -> None:
    page = serve()
    head = f"POST {page.path()} HTTP/1.1\r\nHost: x\r\nTransfer-Encoding: chunked\r\n\r\n".encode()
    assert raw(page.port, head + b"400\r\n" + b"x" * 1024 + b"\r\n" + b"1\r\nx\r\n").startswith(b"HTTP/1.1 413 ")
    assert untouched(page)


def test_a_tap_that_is_cut_off_does_nothing(serve: Serve) -> None:
    """The phone loses the network in the middle."""
    page = serve()
    length = len(TAP)
    head = f"POST {page.path()} HTTP/1.1\r\nHost: x\r\nContent-Length: {length}\r\n\r\n".encode()
    assert b"HTTP/1.1 200" not in raw(page.port, head + TAP[:-1].encode())
    assert page.ask("GET", page.path()).status == 200
    assert untouched(page)


@pytest.mark.parametrize(
    "sent",
    [
        b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"\x00" * 50,  # the first bytes of TLS
        b"GET\r\n\r\n",
        b"GET /\xff HTTP/1.1\r\nHost: x\r\n\r\n",
        b"GET / HTTP/1.1\r\n\r\n",  # no host
        b"GET / HTTP/1.1\r\nHost: x\r\nX: " + b"y" * 9000,
        b"GET /" + b"y" * 9000,
        b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: -1\r\n\r\n",
        b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 1\r\nContent-Length: 2\r\n\r\n",
        b"\r\n" * 100 + b"x y z\r\n\r\n",
    ],
)
def test_what_is_no_http_gets_a_page_all_the_same_and_is_counted(serve: Serve, sent: bytes) -> None:
    page = serve()
    told = raw(page.port, sent)
    assert told == b"" or told.startswith(b"HTTP/1.1 400 ")
    if told:
        assert b"That was not understood" in told
        assert b"content-security-policy" in told.lower()
    assert page.page.counts["malformed"] == 1
    assert page.ask("GET", page.path()).status == 200


def test_a_request_to_change_to_another_protocol_is_passed_over(serve: Serve) -> None:
    page = serve()
    head = f"GET {page.path()} HTTP/1.1\r\nHost: x\r\nConnection: Upgrade, close\r\nUpgrade: websocket\r\n\r\n"
    assert raw(page.port, head.encode()).startswith(b"HTTP/1.1 200 ")


@given(token=st.binary(max_size=600) | st.text(max_size=300).map(lambda text: text.encode("utf-8", "surrogatepass")))
@example(token=b"\n")
@example(token=b"\x00")
@example(token=b"../../a/x")
@example(token=b"?")
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150)
def test_any_bytes_as_a_link_are_refused_and_the_page_goes_on(serve: Serve, token: bytes) -> None:
    page = _only(serve)
    for method in ("GET", "POST"):
        reply = page.ask(method, "/a/" + quote_from_bytes(token, safe=""), TAP)
        assert reply.status == 404
        assert "Nothing was changed" in reply.text
    assert untouched(page)


@given(sent=st.binary(max_size=300))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=100)
def test_any_bytes_on_the_wire_never_make_a_fault(serve: Serve, sent: bytes) -> None:
    page = _only(serve)
    told = raw(page.port, sent)
    assert told == b"" or told.split(b" ", 2)[1] in (b"400", b"404", b"405")
    assert page.page.counts["unavailable"] == 0


_PAGES: dict[int, Any] = {}


def _only(serve: Serve) -> Any:
    """The same page for all examples of one test."""
    if id(serve) not in _PAGES:
        _PAGES.clear()
        _PAGES[id(serve)] = serve()
    return _PAGES[id(serve)]


def test_who_asks_too_often_is_told_to_wait_and_the_log_is_spared(serve: Serve) -> None:
    page = serve(burst=5, refill=1e-6)
    with capture_logs() as lines:
        statuses = [page.ask("GET", page.path()).status for _ in range(5 + 300)]
    assert statuses == [200] * 5 + [429] * 300
    assert page.page.counts["too-many"] == 300
    assert [line["times"] for line in lines] == [1, 2, 3, 100, 200, 300]
    reply = page.tap(page.path())
    assert reply.status == 429
    assert int(reply.headers["retry-after"]) > 0
    assert untouched(page)


def test_a_header_that_names_another_address_does_not_help(serve: Serve) -> None:
    page = serve(burst=1, refill=1e-6)
    for number in range(3):
        status = page.ask("GET", page.path(), X_Forwarded_For=f"10.0.0.{number}").status
        assert status == (200 if number == 0 else 429)


def test_a_connection_that_says_nothing_is_ended(serve: Serve) -> None:
    """Else a few open ones would keep everybody else out for good."""
    page = serve(connection_lasts=0.05)
    with socket.create_connection(("127.0.0.1", page.port), timeout=30) as asking:
        asking.sendall(b"GET /a/")
        assert asking.recv(100) == b""


def test_a_tap_that_never_ends_is_ended(serve: Serve) -> None:
    page = serve(connection_lasts=0.05)
    head = f"POST {page.path()} HTTP/1.1\r\nHost: x\r\nContent-Length: 18\r\n\r\nanswer=".encode()
    with socket.create_connection(("127.0.0.1", page.port), timeout=30) as asking:
        asking.sendall(head)
        try:
            told = asking.recv(1000)
        except ConnectionResetError:
            told = b""
        assert told == b""
    assert untouched(page)


def test_one_address_cannot_take_all_connections(serve: Serve) -> None:
    page = serve(connections_each=2)
    held = [http.client.HTTPConnection("127.0.0.1", page.port, timeout=30) for _ in range(2)]
    for one in held:
        one.request("GET", page.path())
        one.getresponse().read()
    with pytest.raises((ConnectionError, http.client.BadStatusLine)):
        page.ask("GET", page.path())
    assert page.page.counts["crowded-out"] == 1
    for one in held:
        one.close()
