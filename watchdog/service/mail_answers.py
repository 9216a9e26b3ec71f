"""What an answer by mail does: the same as a tap on the link beside it, in the name of the person to whom the mark was sent.

An answer counts only with a mark that was signed here and has not expired, and only for the occurrence that still stands. Who
sent it is told by the mark; where From names another address than that person's own, this is noted with it. What is refused
gets one line in the log and is counted; nobody is answered back, since two machines that answer each other never end.
"""

import asyncio
from collections import Counter
from collections.abc import Mapping

import structlog

from watchdog.alerts.replies import MARK, Reply, read
from watchdog.alerts.reply_words import allows, declines, of_layer
from watchdog.clock import Clock
from watchdog.core.effects import Noted
from watchdog.core.finding import Evidence
from watchdog.page.deeds import Standing
from watchdog.page.links import Claim, Expired, Key, Purpose, Refused, sign, verify
from watchdog.service.deeds import LinkDeeds
from watchdog.service.watching import Watching

MAIL = "mail"
_ANOTHER = "another address than the one it was sent to"
_WHY = {
    Standing.ANSWERED: "answered already",
    Standing.OVER: "it is over",
    Standing.UNKNOWN: "no such alarm or job here",
    Standing.OPEN: "it could not be done",
}


def mark_for(key: Key | None, claim: Claim) -> str | None:
    """The mark that stands for `claim` in a mail; None without a key, or when a name is too long for one."""
    if key is None:
        return None
    try:
        return MARK + sign(key, claim)
    except ValueError:
        return None


class MailAnswers:
    """Takes mails, one after the other. `counts` says what became of them."""

    def __init__(
        self,
        deeds: LinkDeeds,
        workers: Mapping[str, Watching],
        key: Key,
        clock: Clock,
        addresses: Mapping[str, frozenset[str]],
    ) -> None:
        """`addresses`: where each person's mails go, as far as that is known."""
        self._deeds = deeds
        self._workers = workers
        self._key = key
        self._clock = clock
        self._addresses = addresses
        self._log = structlog.get_logger()
        self.counts: Counter[str] = Counter()
        """'taken', 'declined', 'refused', 'automatic', 'no answer' (a mail without a mark, or no answer at all)"""

    @property
    def refused(self) -> int:
        """Marks that did nothing."""
        return self.counts["refused"]

    async def take(self, raw: bytes) -> bool:
        """Do what a mail asks for; whether it was an answer to one of ours."""
        reply = await asyncio.to_thread(read, raw)
        if reply is not None and reply.automatic is not None:
            self.counts["automatic"] += 1
            return bool(reply.marks)
        if reply is None or not reply.marks or not reply.answers:
            self.counts["no answer"] += 1
            return False
        for claim in self._claims(reply):
            await self._act(claim, reply)
        return True

    def _claims(self, reply: Reply) -> list[Claim]:
        """What the marks stand for, each once."""
        found: list[Claim] = []
        for spelt in reply.marks:
            claim = self._claim(spelt)
            if claim is not None and all(claim[:5] != other[:5] for other in found):
                found.append(claim)
        return found

    def _claim(self, spelt: tuple[str, ...]) -> Claim | None:
        now, why = self._clock.now().stamp, "the mark was not signed here"
        for token in spelt:
            try:
                return verify(self._key, token, now)
            except Expired as late:
                self._refuse("its time is over", late.claim)
                return None
            except Refused:  # another spelling may be the one that was signed
                continue
        self._refuse(why, None)
        return None

    async def _act(self, claim: Claim, reply: Reply) -> None:
        answer = None
        if claim.purpose is Purpose.FIRST_LAYER:
            answer = of_layer(reply.words)
            if answer is None:
                self._refuse("it does not begin with good, bad or not looked at", claim)
                return
        elif claim.purpose is Purpose.ALLOW_OUTLAST and not allows(reply.words):
            return  # the other mark of the same mail is what was answered
        elif declines(reply.words):
            self.counts["declined"] += 1
            self._log.info("not taken on, by mail", machine=claim.machine, alarm=claim.alarm, by=claim.person)
            self._note(claim, reply, {"took_on": False, "words": reply.words})
            return
        outcome = await self._deeds.act(claim, answer, MAIL)
        if not outcome.done:
            self._refuse(_WHY[outcome.situation.standing], claim)
            return
        self.counts["taken"] += 1
        self._log.info("answered by mail", machine=claim.machine, what=_what(claim), by=claim.person)
        if self._from_elsewhere(claim, reply):
            self._note(claim, reply, {"took_on": True})

    def _note(self, claim: Claim, reply: Reply, facts: Evidence) -> None:
        """Into the record: who, when, how, and what else there is to know. No address is kept."""
        worker = self._workers.get(claim.machine)
        if worker is None:
            return
        told: Evidence = {"what": _what(claim), "occurrence": claim.number, "by": claim.person, "how": MAIL, **facts}
        if self._from_elsewhere(claim, reply):
            told = {**told, "from": _ANOTHER}
        now = self._clock.now()
        worker.say(now, (Noted(now, "mail-answer", told),))

    def _from_elsewhere(self, claim: Claim, reply: Reply) -> bool:
        known = self._addresses.get(claim.person)
        return known is not None and reply.sender not in known

    def _refuse(self, why: str, claim: Claim | None) -> None:
        self.counts["refused"] += 1
        about = {} if claim is None else {"machine": claim.machine, "what": _what(claim), "by": claim.person}
        self._log.warning("an answer by mail was refused", why=why, **about)


def _what(claim: Claim) -> str:
    return claim.alarm or claim.purpose.name.lower().replace("_", "-")
