"""What a tap on a link does: the page's questions, answered by the workers and the record."""

from collections.abc import Mapping, Sequence
from functools import partial

from watchdog.alerts.languages import ENGLISH, Language, language
from watchdog.clock import Clock
from watchdog.core.alarms.standing import REST, Phase
from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Noted
from watchdog.core.events import Acknowledge, Allowed
from watchdog.core.snapshot import Heater, Link, Snapshot
from watchdog.page.deeds import Answer, MachineLine, Outcome, SetAside, Situation, Standing
from watchdog.page.links import Claim, Purpose
from watchdog.record.labels import Words
from watchdog.record.store import Record
from watchdog.record.term_rows import Result, Subject
from watchdog.service import standing
from watchdog.service.keeping import Keeping
from watchdog.service.watching import Watching

LINK = "link"
_GONE = Situation(Standing.UNKNOWN, "")
_OPEN = frozenset({Phase.UNACKNOWLEDGED, Phase.RETURNED})


class LinkDeeds:
    """The service, as the page sees it."""

    def __init__(
        self,
        workers: Mapping[str, Watching],
        keeping: Keeping,
        clock: Clock,
        itself: str,
        languages: Mapping[str, str] | None = None,
    ) -> None:
        """`itself`: the name of the watch's own worker, which has no machine. `languages`: codes, by person."""
        self._languages = languages or {}
        self._workers = workers
        self._keeping = keeping
        self._clock = clock
        self._itself = itself

    async def look(self, claim: Claim) -> Situation:
        """How it stands with what the link is about."""
        worker = self._workers.get(claim.machine)
        if worker is None:
            return _GONE
        if claim.purpose is Purpose.ACKNOWLEDGE:
            return await self._of_alarm(worker, claim)
        if claim.purpose is Purpose.FIRST_LAYER:
            return await self._of_layer(worker, claim)
        return self._of_outlasting(worker, claim)

    async def act(self, claim: Claim, answer: str | None, how: str = LINK) -> Outcome:
        """Do what the link is for, in the name of the person to whom it was sent. `how` they answered goes into the record."""
        worker = self._workers.get(claim.machine)
        if worker is None:
            return Outcome(False, _GONE)
        now = self._clock.now()
        done = False
        if claim.purpose is Purpose.ACKNOWLEDGE:
            standing_now = worker.world.book.alarms.get(claim.alarm, REST)
            if standing_now.occurrence == claim.number:
                done = bool(await worker.ask(Acknowledge(now, claim.alarm, claim.person, how)))
        elif claim.purpose is Purpose.ALLOW_OUTLAST:
            job = worker.seen().job
            if job is not None and job.number == claim.number:
                said = await worker.ask(Allowed(now, claim.person, claim.person, how))
                done = any(isinstance(effect, Noted) and effect.kind == "allowed-to-outlast" for effect in said)
            if done:
                answer_given = Answer(claim.person, now.stamp, _way(how, self._of(claim.person)))
                return Outcome(True, (await self.look(claim))._replace(answered=answer_given))
        elif answer is not None:
            words = Words(outcome=Result(answer))
            put = partial(_layer_answered, machine=claim.machine, job=claim.number, words=words, how=how)
            done = await self._keeping.use(partial(put, at=now.stamp, by=claim.person))
        return Outcome(done, await self.look(claim))

    async def overview(self) -> Sequence[MachineLine]:
        """All machines."""
        return [self._line(name, worker) for name, worker in self._workers.items() if name != self._itself]

    def _line(self, name: str, worker: Watching) -> MachineLine:
        now = self._clock.now()
        rows = standing.standing(name, worker.world, now)
        repair = worker.memories.repair
        away = repair is not None and repair.until > now.elapsed
        aside = [SetAside(now.stamp + repair.until - now.elapsed)] if repair is not None and away else []
        aside += [
            SetAside(now.stamp + row["shelved_for_s"], row["what"]) for row in rows if row["shelved_for_s"] is not None
        ]
        stand = tuple(row["what"] for row in rows if row["shelved_for_s"] is None)
        return MachineLine(name, state_words(worker.seen(), ENGLISH), stand, tuple(aside))

    async def _of_alarm(self, worker: Watching, claim: Claim) -> Situation:
        now = worker.world.book.alarms.get(claim.alarm, REST)
        if claim.alarm not in TABLE or now.occurrence < claim.number:
            return _GONE
        words = self._of(claim.person)
        row = words.alarm(TABLE[claim.alarm])
        state = None if claim.machine == self._itself else state_words(worker.seen(), words)
        shown = Situation(Standing.OVER, row.what, row.action, row.then, None, state)
        if now.occurrence == claim.number and now.phase in _OPEN and now.raised is not None:
            return shown._replace(standing=Standing.OPEN, since=now.raised.stamp)
        if now.occurrence == claim.number and now.acknowledged is not None and now.raised is not None:
            taken = now.acknowledged
            answer = Answer(taken.by, taken.at.stamp, _way(taken.how, words))
            return shown._replace(standing=Standing.ANSWERED, since=now.raised.stamp, answered=answer)
        since, answered = await self._keeping.use(
            partial(_past, machine=claim.machine, alarm=claim.alarm, occurrence=claim.number)
        )
        if answered is not None:
            answered = answered._replace(how=_way(answered.how, words))
        return shown._replace(since=since, answered=answered)

    def _of(self, person: str) -> Language:
        return language(self._languages.get(person, ENGLISH.code))

    async def _of_layer(self, worker: Watching, claim: Claim) -> Situation:
        answered = await self._keeping.use(partial(_layer_answer, machine=claim.machine, job=claim.number))
        seen, words = worker.seen(), self._of(claim.person)
        if answered is not None:
            answered = answered._replace(how=_way(answered.how, words))
        now = state_words(seen, words)
        shown = Situation(Standing.OPEN, words.say("page.first_layer"), now=now, answered=answered)
        if answered is not None:
            return shown._replace(standing=Standing.ANSWERED)
        if seen.job is None or seen.job.number < claim.number:
            return _GONE
        return shown

    def _of_outlasting(self, worker: Watching, claim: Claim) -> Situation:
        seen = worker.seen()
        words = self._of(claim.person)
        row = words.alarm(TABLE["outlasts-supervision"])
        shown = Situation(Standing.OPEN, row.what, row.action, row.then, now=state_words(seen, words))
        if seen.job is None or seen.job.number < claim.number:
            return _GONE
        if seen.job.number != claim.number or seen.job.ended is not None:
            return shown._replace(standing=Standing.OVER)
        return shown._replace(standing=Standing.ANSWERED) if seen.may_outlast else shown


def state_words(seen: Snapshot, words: Language) -> str | None:
    """One machine in a few words; None where nothing can be told of it."""
    if seen.link is not Link.AVAILABLE:
        return None
    parts = [_heat(words.say("page.nozzle"), seen.nozzle, words), _heat(words.say("page.bed"), seen.bed, words)]
    job = seen.job
    if job is not None and job.ended is None:
        minutes = round((seen.at - job.started) / 60)
        parts.append(words.say("page.job", minutes=minutes) if seen.active else words.say("page.held"))
    elif seen.active is False:
        parts.append(words.say("page.idle"))
    return ", ".join(filter(None, parts)) or None


def _heat(name: str, heater: Heater, words: Language) -> str:
    if heater.now is None:
        return ""
    now = f"{heater.now:.0f}"
    if heater.target is None:
        return words.say("page.heater", name=name, now=now)
    if heater.target == 0:
        return words.say("page.heater_off", name=name, now=now)
    return words.say("page.heater_on", name=name, now=now, target=f"{heater.target:.0f}")


def _way(how: str | None, words: Language) -> str | None:
    """In words that go on after 'by way of'; a way that has none as it is."""
    return words.say(f"way.{how}") if how is not None and words.says(f"way.{how}") else how


def _past(record: Record, machine: str, alarm: str, occurrence: int) -> tuple[float | None, Answer | None]:
    """When an occurrence that is over was raised, and who had taken it on."""
    number = record.alarm_id(machine, alarm, occurrence)
    if number is None:
        return None, None
    row = next((one for one in record.occurrences(machine=machine, alarm=alarm) if one.id == number), None)
    if row is None:
        return None, None
    if row.acknowledged is None:
        return row.raised, None
    return row.raised, Answer(row.acknowledged_by, row.acknowledged, row.acknowledged_how)


def _layer_answer(record: Record, machine: str, job: int) -> Answer | None:
    number = record.job_id(machine, job)
    if number is None:
        return None
    first = next((row for row in record.labels_of(Subject.FIRST_LAYER, number) if row.outcome is not None), None)
    if first is None or first.outcome is None:
        return None
    return Answer(first.by, first.at, first.how, first.outcome.value)


def _layer_answered(record: Record, machine: str, job: int, words: Words, how: str, at: float, by: str) -> bool:
    """Keep the first answer; whether this is it."""
    number = record.job_id(machine, job)
    if number is None or _layer_answer(record, machine, job) is not None:
        return False
    record.label(Subject.FIRST_LAYER, number, words, at=at, by=by, how=how)
    return True
