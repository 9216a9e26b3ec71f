"""The words of a notice: what somebody asked to be told, once. It is never insisted on and needs no acknowledgement.

What a notice holds may come from another version or be damaged: whatever is missing is left out or told as not known, and never
makes a machine cold or a day quiet.
"""

from collections.abc import Callable, Mapping, Sequence
from math import isfinite

from watchdog.alerts.facts import nameless, why
from watchdog.alerts.matters import Matter
from watchdog.alerts.plain import clock_time, duration, number, phrase, seen, shorten, zone_name
from watchdog.alerts.wording import MOST, Wording
from watchdog.core import cooling
from watchdog.core.notices import notice

_STATES = ("unseen", "active", "hot", "unknown")  # the order in which a closing statement names them
_LOOK = frozenset({"not-known", "restarted", "job-stood", "job-ended"})  # after a blind time: somebody should look
_MACHINE = 40  # characters of its name in a first line
_MOST_NUMBER = 1e11  # the year 5138 as a stamp; no count or duration comes near


class Notice:
    """One notice and its facts, in one reader's words."""

    def __init__(self, matter: Matter, wording: Wording, room: int) -> None:
        self.matter, self.wording, self.room = matter, wording, room
        self.name = matter.tell.alarm
        self.said = matter.tell.evidence
        self.time = self.clock(matter.tell.at.stamp)

    def clock(self, stamp: float) -> str:
        """Local time of `stamp`."""
        if not 0 <= stamp <= _MOST_NUMBER:
            return self.wording.language.say("unknown.value")
        return clock_time(stamp, self.wording.zone, self.wording.now, self.wording.language)

    def text(self, key: str) -> str:
        """The fact `key` where it is a text; else ''."""
        held = self.said.get(key)
        return held if isinstance(held, str) else ""

    def number(self, key: str) -> float | None:
        """The fact `key` where it is a number that can be meant."""
        held = self.said.get(key)
        if held is None or isinstance(held, str | bool) or not isfinite(held) or abs(held) > _MOST_NUMBER:
            return None
        return float(held)

    def heat(self, key: str) -> str:
        """The temperature `key` with its unit."""
        held, language = self.number(key), self.wording.language
        return language.say("unknown.value") if held is None else f"{number(held, language)} °C"

    def say(self, name: str, **facts: str | int) -> str:
        """A phrase of this notice."""
        return self.wording.language.say(f"notices.{self.name}.{name}", **facts)

    def then(self, name: str = "then") -> str:
        """What comes after the first line."""
        return self.say(name, fire=self.wording.language.say("fact.fire"))

    def first(self, name: str = "first", *flexible: str, **facts: str | int) -> str:
        """The first line. In it the machine's name, or the first of `flexible` that fits, gives way to the rest."""
        left = max(self.room - len(self.say(name, flexible="", **facts)), 10)
        given = flexible or (shorten(self.matter.machine, _MACHINE),)
        fitting = next((text for text in given if len(text) <= left), shorten(given[-1], left))
        return shorten(self.say(name, flexible=fitting, **facts), self.room)


def notice_lines(matter: Matter, wording: Wording, *, room: int = MOST) -> list[str]:
    """The first line, at most `room` characters (100 or more), and the facts."""
    told, say = Notice(matter, wording, room), wording.language.say
    make = _MAKERS.get(matter.tell.alarm, _of_another_version)
    first, *lines = make(told)
    at = matter.tell.at.stamp
    time = f"{told.time} {zone_name(at, wording.zone)}".rstrip()
    about = [] if told.name in _OF_ALL else [say("fact.machine", machine=shorten(matter.machine, 80))]
    return [first, *about, say("notices.at", time=time), *lines, *why(matter, wording)]


def _first_layer(told: Notice) -> Sequence[str]:
    layers, link = told.number("layers"), told.wording.links(told.matter)
    lines = [told.first(time=told.time)]
    if layers is not None:
        lines.append(told.say("layers", layers=number(layers, told.wording.language)))
    return [*lines, told.then(), *([told.say("tap", link=link)] if link else [])]


def _job_finished(told: Notice) -> Sequence[str]:
    took = told.number("took_s")
    if took is None:
        first = told.first("first_untimed", time=told.time)
    else:
        first = told.first(time=told.time, took=duration(took, told.wording.language))
    return [first, told.say("nozzle", nozzle=told.heat("nozzle")), told.then()]


def _watch_on(told: Notice) -> Sequence[str]:
    machines, unseen = told.number("machines"), told.text("unseen")
    if machines is None:
        first = told.first("first_unknown")
    elif unseen:
        seen_now = max(0, int(machines) - len(unseen.split(",")))
        first = told.first("first_unseen", unseen, seen=seen_now, machines=int(machines))
    else:
        first = told.first(machines=int(machines))
    return [first, *_states(told), told.then()]


def _closing(told: Notice) -> Sequence[str]:
    until, states = told.number("until"), _states(told)
    ends = "" if until is None else told.say("ends", time=told.clock(until))
    if told.number("all_cold") == 1 and not states:  # in every other case, also where that was not told
        return [told.first("first_cold", ends=ends), told.then("then_cold")]
    if not states:
        return [told.first("first_unknown", ends=ends), told.then()]
    machines = dict.fromkeys(name.strip() for state in _STATES for name in told.text(state).split(",") if name.strip())
    return [told.first("first", "; ".join(states), ", ".join(machines), ends=ends), *states, told.then()]


def _digest(told: Notice) -> Sequence[str]:
    language = told.wording.language
    counts = [
        language.say(f"digest.{key}", number(held, language)) if language.says(f"digest.{key}") else ""
        for key in told.said
        if (held := told.number(key)) is not None
    ]
    known = [count for count in counts if count]
    others = {key: held for key, held in told.said.items() if not language.says(f"digest.{key}")}
    seen_besides = seen(others, show_files=told.wording.show_files, language=language)
    lines = [*known, *(nameless(fact, told.wording) for fact in seen_besides)]
    if not lines:
        return [told.first("first_empty"), told.then()]
    name = "first_waiting" if told.number("unanswered") else "first"
    as_many_as_fit = (", ".join(lines[:size]) for size in range(len(lines), 0, -1))
    return [told.first(name, *as_many_as_fit), *lines, told.then()]


def _was_blind(told: Notice) -> Sequence[str]:
    tell, language = told.matter.tell, told.wording.language
    meanwhile = told.text("meanwhile")
    if not language.says(f"meanwhile.{meanwhile}"):
        meanwhile = "not-known"
    first = told.first(
        "first_look" if meanwhile in _LOOK else "first",
        since=told.clock(tell.since.stamp),
        time=told.time,
        meanwhile=language.say(f"meanwhile.{meanwhile}"),
    )
    lasted = duration(tell.at.stamp - tell.since.stamp, language)
    heat = told.say("nozzle", before=told.heat("nozzle_before"), now=told.heat("nozzle_now"))
    return [first, told.say("lasted", lasted=lasted), heat, told.then()]


def _cooled(told: Notice) -> Sequence[str]:
    """Both outcomes of the protective action."""
    heat = told.say("nozzle", before=told.heat("was"), now=told.heat("nozzle"))
    target = phrase("target", told.number("target"), told.wording.language)
    return [told.first(), heat, target, told.then()]


def _of_another_version(told: Notice) -> Sequence[str]:
    """One that this version does not know and that still waits in the outbox."""
    machine, name = shorten(told.matter.machine, 30), shorten(told.name, 30)
    line = told.wording.language.say("another_version.note", machine=machine, name=name, time=told.time)
    facts = seen(told.said, show_files=told.wording.show_files, language=told.wording.language)
    return [shorten(line, told.room), *(nameless(fact, told.wording) for fact in facts)]


def _states(told: Notice) -> list[str]:
    """The machines that are not cold and idle, or not seen, by what they are."""
    say = told.wording.language.say
    return [say(f"state.{state}", names=shorten(names, 200)) for state in _STATES if (names := told.text(state))]


_OF_ALL = frozenset({notice.WATCH_ON, notice.CLOSING, notice.DIGEST})
"""about all machines together"""
_MAKERS: Mapping[str, Callable[[Notice], Sequence[str]]] = {
    notice.FIRST_LAYER: _first_layer,
    notice.JOB_FINISHED: _job_finished,
    notice.WATCH_ON: _watch_on,
    notice.CLOSING: _closing,
    notice.DIGEST: _digest,
    notice.WAS_BLIND: _was_blind,
    cooling.COOLED: _cooled,
    cooling.NOT_COOLED: _cooled,
}
NAMES = frozenset(_MAKERS)
"""every notice that there are words for"""
