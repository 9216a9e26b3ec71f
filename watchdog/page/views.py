"""What stands on a page, before it is laid out."""

from collections.abc import Iterator, Sequence
from datetime import tzinfo
from typing import NamedTuple

from watchdog.page.deeds import Answer, MachineLine, Outcome, Situation, Standing
from watchdog.page.links import Claim
from watchdog.page.times import age, clock_time
from watchdog.page.words import Words

Facts = tuple[tuple[str, str], ...]


class View(NamedTuple):
    """One page."""

    heading: str
    lines: tuple[str, ...] = ()
    buttons: tuple[tuple[str, str], ...] = ()
    """value and label of each; without any there is nothing to tap"""
    note: str | None = None
    facts: Facts = ()
    """label and text"""


class Reader(NamedTuple):
    """In what language, where and when a page is read."""

    words: Words
    zone: tzinfo
    now: float
    """stamp"""


def asked(reader: Reader, claim: Claim, situation: Situation) -> View:
    """What a link shows when it is opened."""
    if situation.standing is Standing.UNKNOWN:
        return refused(reader, "unknown")
    if situation.standing is Standing.OVER:
        return _over(reader, claim, situation)
    if situation.standing is Standing.ANSWERED:
        return _answered(reader, claim, situation, reader.words.asking[claim.purpose].already)
    asking = reader.words.asking[claim.purpose]
    lines = (*_what_to_do(situation), *((asking.caution,) if asking.caution else ()))
    heading = asking.heading.format(machine=claim.machine, what=situation.what)
    about = [fact for fact in _about(reader, claim, situation) if fact[1] != heading]  # what is said once is enough
    return View(heading, lines, asking.buttons, asking.note, (*about, (reader.words.sent_to, claim.person)))


def told(reader: Reader, claim: Claim, outcome: Outcome) -> View:
    """What a tap brought."""
    situation, asking = outcome.situation, reader.words.asking[claim.purpose]
    if outcome.done:
        view = _answered(reader, claim, situation, asking.done)
        return view._replace(note=reader.words.nothing_at_machine)
    view = asked(reader, claim, situation)._replace(buttons=())
    return view._replace(note=reader.words.changed_nothing)


def refused(reader: Reader, why: str, claim: Claim | None = None) -> View:
    """A link, or something else, that does nothing."""
    heading, line = reader.words.refusals[why]
    facts = () if claim is None else ((reader.words.about, claim.machine), (reader.words.sent_to, claim.person))
    return View(heading, (line,), facts=facts)


def overview(reader: Reader, machines: Sequence[MachineLine]) -> View:
    """The status page: one line a machine."""
    words = reader.words
    facts = tuple(
        (line.machine, "; ".join((*line.alarms, *_aside(reader, line), line.now or words.cannot_tell)))
        for line in machines
    )
    return View(words.status, () if facts else (words.no_machine,), facts=facts)


def _aside(reader: Reader, line: MachineLine) -> Iterator[str]:
    for one in line.aside:
        time = clock_time(one.until, reader.zone, reader.now, reader.words)
        if one.what is None:
            yield reader.words.repair.format(time=time)
        else:
            yield reader.words.shelved.format(what=one.what, time=time)


def _answered(reader: Reader, claim: Claim, situation: Situation, heading: str) -> View:
    answered = situation.answered
    answer = None if answered is None or answered.answer is None else reader.words.answers.get(answered.answer)
    filled = heading.format(answer=answer or reader.words.not_known)
    facts = (*_who(reader, claim, answered), *_about(reader, claim, situation))
    return View(filled, _what_to_do(situation), facts=facts)


def _over(reader: Reader, claim: Claim, situation: Situation) -> View:
    heading, line = reader.words.over
    facts = (*_who(reader, claim, situation.answered), *_about(reader, claim, situation))
    return View(heading, (line,), facts=facts)


def _what_to_do(situation: Situation) -> tuple[str, ...]:
    """The first action as a sentence, then what comes after it."""
    action = None if situation.action is None else situation.action.rstrip(".") + "."
    return tuple(line for line in (action, situation.then) if line)


def _about(reader: Reader, claim: Claim, situation: Situation) -> Iterator[tuple[str, str]]:
    words = reader.words
    yield words.about, f"{claim.machine}: {situation.what}"
    if situation.since is not None:
        time = clock_time(situation.since, reader.zone, reader.now, words)
        yield words.since, words.ago.format(time=time, age=age(reader.now - situation.since))
    yield words.now, situation.now or words.cannot_tell


def _who(reader: Reader, claim: Claim, answered: Answer | None) -> Iterator[tuple[str, str]]:
    if answered is None:
        return
    words = reader.words
    yield words.asking[claim.purpose].by, answered.by or words.not_known
    yield words.at, clock_time(answered.at, reader.zone, reader.now, words)
    if answered.how:
        yield words.how, answered.how
