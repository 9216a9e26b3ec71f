"""What a tap on a link does: the page's questions, answered by the workers and the record."""

from collections.abc import Mapping, Sequence
from functools import partial

from watchdog.clock import Clock
from watchdog.core.alarms.standing import REST, Phase
from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Noted
from watchdog.core.events import Acknowledge, Allowed
from watchdog.core.snapshot import Heater, Link, Snapshot
from watchdog.page.deeds import Answer, MachineLine, Outcome, Situation, Standing
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

    def __init__(self, workers: Mapping[str, Watching], keeping: Keeping, clock: Clock, itself: str) -> None:
        """`itself`: the name of the watch's own worker, which has no machine."""
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

    async def act(self, claim: Claim, answer: str | None) -> Outcome:
        """Do what the link is for, in the name of the person to whom it was sent."""
        worker = self._workers.get(claim.machine)
        if worker is None:
            return Outcome(False, _GONE)
        now = self._clock.now()
        done = False
        if claim.purpose is Purpose.ACKNOWLEDGE:
            standing_now = worker.world.book.alarms.get(claim.alarm, REST)
            if standing_now.occurrence == claim.number:
                done = bool(await worker.ask(Acknowledge(now, claim.alarm, claim.person, LINK)))
        elif claim.purpose is Purpose.ALLOW_OUTLAST:
            job = worker.seen().job
            if job is not None and job.number == claim.number:
                said = await worker.ask(Allowed(now, claim.person, claim.person))
                done = any(isinstance(effect, Noted) and effect.kind == "allowed-to-outlast" for effect in said)
        elif answer is not None:
            words = Words(outcome=Result(answer))
            put = partial(_layer_answered, machine=claim.machine, job=claim.number, words=words)
            done = await self._keeping.use(partial(put, at=now.stamp, by=claim.person))
        return Outcome(done, await self.look(claim))

    async def overview(self) -> Sequence[MachineLine]:
        """All machines."""
        now = self._clock.now()
        return [
            MachineLine(
                name,
                state_words(worker.seen()),
                tuple(row["what"] for row in standing.standing(name, worker.world, now)),
            )
            for name, worker in self._workers.items()
            if name != self._itself
        ]

    async def _of_alarm(self, worker: Watching, claim: Claim) -> Situation:
        row = TABLE.get(claim.alarm)
        now = worker.world.book.alarms.get(claim.alarm, REST)
        if row is None or now.occurrence < claim.number:
            return _GONE
        state = None if claim.machine == self._itself else state_words(worker.seen())
        shown = Situation(Standing.OVER, row.what, row.action, row.then, None, state)
        if now.occurrence == claim.number and now.phase in _OPEN and now.raised is not None:
            return shown._replace(standing=Standing.OPEN, since=now.raised.stamp)
        if now.occurrence == claim.number and now.acknowledged is not None and now.raised is not None:
            taken = now.acknowledged
            answer = Answer(taken.by, taken.at.stamp, _way(taken.how))
            return shown._replace(standing=Standing.ANSWERED, since=now.raised.stamp, answered=answer)
        since, answered = await self._keeping.use(
            partial(_past, machine=claim.machine, alarm=claim.alarm, occurrence=claim.number)
        )
        return shown._replace(since=since, answered=answered)

    async def _of_layer(self, worker: Watching, claim: Claim) -> Situation:
        answered = await self._keeping.use(partial(_layer_answer, machine=claim.machine, job=claim.number))
        seen = worker.seen()
        shown = Situation(Standing.OPEN, "first layer of the job", now=state_words(seen), answered=answered)
        if answered is not None:
            return shown._replace(standing=Standing.ANSWERED)
        if seen.job is None or seen.job.number < claim.number:
            return _GONE
        return shown

    def _of_outlasting(self, worker: Watching, claim: Claim) -> Situation:
        seen = worker.seen()
        row = TABLE["outlasts-supervision"]
        shown = Situation(Standing.OPEN, row.what, row.action, row.then, now=state_words(seen))
        if seen.job is None or seen.job.number < claim.number:
            return _GONE
        if seen.job.number != claim.number or seen.job.ended is not None:
            return shown._replace(standing=Standing.OVER)
        return shown._replace(standing=Standing.ANSWERED) if seen.may_outlast else shown


def state_words(seen: Snapshot) -> str | None:
    """One machine in a few words; None where nothing can be told of it."""
    if seen.link is not Link.AVAILABLE:
        return None
    parts = [_heat("nozzle", seen.nozzle), _heat("bed", seen.bed)]
    job = seen.job
    if job is not None and job.ended is None:
        minutes = round((seen.at - job.started) / 60)
        parts.append(f"a job since {minutes} min" if seen.active else "a job is held")
    elif seen.active is False:
        parts.append("no job")
    return ", ".join(filter(None, parts)) or None


def _heat(name: str, heater: Heater) -> str:
    if heater.now is None:
        return ""
    target = "" if heater.target is None else ", heater off" if heater.target == 0 else f" of {heater.target:.0f} °C"
    return f"{name} {heater.now:.0f} °C{target}"


def _way(how: str | None) -> str | None:
    """In words that go on after 'by'."""
    return {"link": "a link", "command": "the command", "mqtt": "the network", "mail": "a mail"}.get(how or "", how)


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
    return row.raised, Answer(row.acknowledged_by, row.acknowledged, _way(row.acknowledged_how))


def _layer_answer(record: Record, machine: str, job: int) -> Answer | None:
    number = record.job_id(machine, job)
    if number is None:
        return None
    first = next((row for row in record.labels_of(Subject.FIRST_LAYER, number) if row.outcome is not None), None)
    if first is None or first.outcome is None:
        return None
    return Answer(first.by, first.at, _way(first.how), first.outcome.value)


def _layer_answered(record: Record, machine: str, job: int, words: Words, at: float, by: str) -> bool:
    """Keep the first answer; whether this is it."""
    number = record.job_id(machine, job)
    if number is None or _layer_answer(record, machine, job) is not None:
        return False
    record.label(Subject.FIRST_LAYER, number, words, at=at, by=by, how=LINK)
    return True
