"""Answers requests: a link is opened with GET, which never changes anything, and acted on with POST, once.

Mail scanners and previews open every link that they find, so nothing is done before somebody taps. No cookie, no login, no
script. What is refused gets a page that says so, one line in the log and a count; the log never holds a link, since whoever
holds it can use it.
"""

import asyncio
from collections import Counter
from collections.abc import Mapping
from email.utils import formatdate
from typing import Any
from urllib.parse import parse_qs

import structlog
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, Response
from starlette.types import Receive, Scope, Send

from watchdog.clock import Clock
from watchdog.page import views
from watchdog.page.deeds import Deeds, Outcome, Standing
from watchdog.page.links import PATH, Claim, Damaged, Expired, Key, Purpose, Refused, verify
from watchdog.page.options import Options
from watchdog.page.portuguese import PORTUGUESE
from watchdog.page.rationing import Rationing, group
from watchdog.page.templates import POLICY, sheet
from watchdog.page.views import Reader, View
from watchdog.page.words import ENGLISH, Words

MOST_BODY = 1024  # bytes; a tap sends some 20
STATUS = {
    "damaged": 404,
    "forged": 404,
    "expired": 410,
    "unknown": 404,
    "no-such-page": 404,
    "wrong-method": 405,
    "oversize": 413,
    "malformed": 400,
    "too-many": 429,
    "unavailable": 503,
}
"""the answer to each kind of refusal (RFC 9110 section 15.5; 429: RFC 6585)"""
HEADERS = {
    "Content-Security-Policy": POLICY,
    "Cache-Control": "no-store",
    "Referrer-Policy": "no-referrer",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "X-Robots-Tag": "noindex, nofollow",
}
LANGUAGES = {words.lang: words for words in (ENGLISH, PORTUGUESE)}
EVERYBODY_ALIKE: Mapping[str, str] = {}
_FLOOD = frozenset({"too-many", "malformed", "no-such-page"})  # told in rations: no link is about them
_FIRST, _THEN_EVERY = 3, 100


class Refusal(Exception):
    """Ends a request; `why` is a key of `STATUS`."""

    def __init__(self, why: str, claim: Claim | None = None, headers: dict[str, str] | None = None) -> None:
        super().__init__(why)
        self.why = why
        self.claim = claim
        self.headers = headers or {}


class App:
    """The page as an ASGI application. `counts` says how often each thing has come of a request."""

    def __init__(
        self,
        options: Options,
        deeds: Deeds,
        key: Key,
        clock: Clock,
        words: Words = ENGLISH,
        languages: Mapping[str, str] = EVERYBODY_ALIKE,
    ) -> None:
        """`languages`: of each person, as in `LANGUAGES`; `words` serve where that does not tell."""
        self._options = options
        self._deeds = deeds
        self._key = key
        self._clock = clock
        self._words = words
        self._languages = languages
        self._rationing = Rationing(options.burst, options.refill)
        self._tapping = asyncio.Lock()  # two phones at once: the second finds what the first has done
        self._log: Any = structlog.get_logger("page")
        self.counts: Counter[str] = Counter()

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request. No fault of the service or of the asker leaves it as an exception."""
        if scope["type"] != "http":
            return
        asker = scope["client"][0] if scope.get("client") else ""
        request = Request(scope, receive)
        try:
            response = await self._answer(request, asker)
        except ClientDisconnect:
            return
        except Refusal as refusal:
            response = self.refused(refusal, asker)
        except Exception as fault:
            self._log.error("page fault", fault=f"{type(fault).__name__}: {fault}", method=request.method)
            response = self.refused(Refusal("unavailable"), asker)
        await response(scope, receive, send)

    def refused(self, refusal: Refusal, asker: str) -> Response:
        """The page, the count and the line in the log of what is refused."""
        why, reader = refusal.why, self._reader(refusal.claim)
        self.counts[why] += 1
        if why not in _FLOOD or self.counts[why] <= _FIRST or self.counts[why] % _THEN_EVERY == 0:
            about = {} if refusal.claim is None else _told(refusal.claim)
            self._log.warning("page refused", why=why, asker=group(asker), times=self.counts[why], **about)
        return self._page(views.refused(reader, why, refusal.claim), STATUS[why], refusal.headers, reader.words)

    async def _answer(self, request: Request, asker: str) -> Response:
        if not self._rationing.allows(asker, self._clock.now().elapsed):
            raise Refusal("too-many", headers={"Retry-After": "60", "Connection": "close"})
        path = request.scope["path"]
        if path.startswith(PATH):
            return await self._link(request, path.removeprefix(PATH))
        if path == "/" and self._options.status:
            _allow(request, "GET", "HEAD")
            async with asyncio.timeout(self._options.patience):
                machines = await self._deeds.overview()
            self.counts["overview"] += 1
            return self._page(views.overview(self._reader(), machines))
        raise Refusal("no-such-page")

    async def _link(self, request: Request, token: str) -> Response:
        _allow(request, "GET", "HEAD", "POST")
        try:
            claim = verify(self._key, token, self._clock.now().stamp)
        except Expired as old:
            raise Refusal("expired", old.claim) from None
        except Refused as bad:
            raise Refusal("damaged" if isinstance(bad, Damaged) else "forged") from None
        if request.method == "POST":
            return await self._tap(claim, await self._tapped(request, claim))
        async with asyncio.timeout(self._options.patience):
            situation = await self._deeds.look(claim)
        if situation.standing is Standing.UNKNOWN:
            raise Refusal("unknown", claim)
        self.counts["shown"] += 1
        reader = self._reader(claim)
        return self._page(views.asked(reader, claim, situation), words=reader.words)

    async def _tapped(self, request: Request, claim: Claim) -> str:
        """Which of the page's buttons it was."""
        body = bytearray()
        async for part in request.stream():
            body += part
            if len(body) > MOST_BODY:
                raise Refusal("oversize", claim, {"Connection": "close"})
        try:
            (answer,) = parse_qs(body.decode("ascii"), strict_parsing=True, max_num_fields=1)["answer"]
        except (ValueError, KeyError):
            raise Refusal("malformed", claim) from None
        if answer not in dict(self._words.asking[claim.purpose].buttons):
            raise Refusal("malformed", claim)
        return answer

    async def _tap(self, claim: Claim, button: str) -> Response:
        answer = button if claim.purpose is Purpose.FIRST_LAYER else None
        async with asyncio.timeout(self._options.patience), self._tapping:
            situation = await self._deeds.look(claim)
            outcome = Outcome(done=False, situation=situation)
            if situation.standing is Standing.OPEN:
                outcome = await self._deeds.act(claim, answer)
        standing = outcome.situation.standing
        if standing is Standing.UNKNOWN:
            raise Refusal("unknown", claim)
        result = "done" if outcome.done else standing.value
        self.counts[result] += 1
        self._log.info("page tap", result=result, **_told(claim), **({"answer": answer} if answer else {}))
        over = standing is Standing.OVER and not outcome.done
        reader = self._reader(claim)
        return self._page(views.told(reader, claim, outcome), 409 if over else 200, words=reader.words)

    def _reader(self, claim: Claim | None = None) -> Reader:
        """Whoever holds a link reads the language of the person to whom it was sent."""
        code = None if claim is None else self._languages.get(claim.person)
        words = self._words if code is None else LANGUAGES.get(code, self._words)
        return Reader(words, self._options.zone, self._clock.now().stamp)

    def _page(
        self, view: View, status: int = 200, headers: dict[str, str] | None = None, words: Words | None = None
    ) -> Response:
        words = words or self._words
        date = {"Date": formatdate(self._clock.now().stamp, usegmt=True)}
        text = sheet(view, words.lang, words.advisory)
        return HTMLResponse(text, status, {**HEADERS, "Content-Language": words.lang, **date, **(headers or {})})


def _allow(request: Request, *methods: str) -> None:
    if request.method not in methods:
        raise Refusal("wrong-method", headers={"Allow": ", ".join(methods)})


def _told(claim: Claim) -> dict[str, Any]:
    """What the log says of a claim. Alarm and number together are one occurrence."""
    about = {"alarm": claim.alarm} if claim.alarm else {}
    return {
        "purpose": claim.purpose.name.lower(),
        "machine": claim.machine,
        **about,
        "number": claim.number,
        "person": claim.person,
    }
