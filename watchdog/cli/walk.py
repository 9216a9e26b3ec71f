"""The walk through what nobody has judged yet, newest first: three lines each, then one key."""

from collections.abc import Callable, Mapping
from typing import Any, Final

from watchdog.cli.about import of_alarm, of_job
from watchdog.cli.common import DONE, paint, say
from watchdog.cli.keys import END, keys
from watchdog.record.reader import Reader
from watchdog.record.term_rows import LabelNow, Result, Subject, Unlabelled
from watchdog.service.subjects import LETTERS
from watchdog.settings import Settings
from watchdog.settings.fill import zone_of
from watchdog.settings.places import of_caller

MOST: Final = 5_000
"""looked through at once; what is older comes with the next walk"""
_OUTCOMES: Final = {"g": "good", "f": "failed", "n": "unknown"}
_USEFUL: Final = {"y": "useful", "n": "nuisance", "l": "late"}
_LETTERS: Final = "abcdefghijklmnoprtvwxyz"  # for causes: s, q and u keep their meaning
_ASKS: Final = {
    Subject.JOB: "g good  f failed  n not known  |  s skip  u undo  q quit  ? help",
    Subject.ALARM: "y useful  n nuisance  l late  |  s skip  u undo  q quit  ? help",
}
_HELP: Final = """\
Of a job: g, the part is good; f, it failed (a second key says of what); n, that cannot be known.
Of an alarm: y, it was right to tell; n, it was not worth a message; l, it was right and came too late.
s leaves it for another time. u takes back the last word: a correcting label is added, and it is asked again.
q ends; what was said stays said. More (a remedy, a note): emberward label j41 --remedy "…" --note "…\""""

Put = Callable[[str, dict[str, Any]], LabelNow]


def walk(settings: Settings, machine: str | None, put: Put) -> int:
    """Ask until all is judged or the person ends it. `put` enters a label of what it is given, by its short form."""
    zone = zone_of(settings)
    with Reader.read(of_caller(settings.places).record) as record:
        waiting = record.unlabelled((Subject.JOB, Subject.ALARM), machine, MOST)
        if not waiting:
            say("nothing waits to be judged")
            return DONE
        alarms = {row.id: row for row in record.occurrences(machine=machine)}

        def about(one: Unlabelled) -> list[str]:
            if one.kind is Subject.JOB:
                job = record.job(one.id)
                return ["a job that is no longer there"] if job is None else of_job(record, job, zone)
            return of_alarm(alarms[one.id], zone)

        with keys() as press:
            judged = _Walk(waiting, about, put, press, settings.review.causes).run()
    say(f"{judged} judged; {len(waiting) - judged} wait. Each word can be corrected: emberward label ID …")
    return DONE


class _Walk:
    def __init__(
        self,
        waiting: tuple[Unlabelled, ...],
        about: Callable[[Unlabelled], list[str]],
        put: Put,
        press: Callable[[], str],
        causes: Mapping[str, str],
    ) -> None:
        self._waiting = waiting
        self._about = about
        self._put = put
        self._press = press
        self._causes = dict(zip(_LETTERS, causes, strict=False))  # more causes than letters: the rest by command
        self._said: list[int] = []

    def run(self) -> int:
        place = 0
        while place < len(self._waiting):
            one = self._waiting[place]
            say()
            head, *rest = self._about(one)
            say(paint(f"{place + 1} of {len(self._waiting)}", "bold") + f"  {head}")
            for line in rest:
                say(line)
            key = self._ask(one)
            if key == END:
                break
            if key == "u":
                place = self._undone(place)
            elif key == "s" or self._judge(one, key):
                if key != "s":
                    self._said.append(place)
                place += 1
        return len(set(self._said))

    def _ask(self, one: Unlabelled) -> str:
        """A key that means something here."""
        known = _OUTCOMES if one.kind is Subject.JOB else _USEFUL
        say(f"  {_ASKS[one.kind]}")
        while True:
            key = self._press()
            if key in {END, "q"}:
                return END
            if key in known or key in {"s", "u"}:
                return key
            say(_HELP if key == "?" else f"  {key!r} means nothing here: {_ASKS[one.kind]}")

    def _judge(self, one: Unlabelled, key: str) -> bool:
        """Enter what `key` says; False when it was taken back at the second key."""
        if one.kind is Subject.ALARM:
            self._enter(one, useful=_USEFUL[key])
            return True
        cause = None
        if key == "f":
            second = self._cause()
            if second == "u":
                return False
            cause = self._causes.get(second)
        self._enter(one, outcome=_OUTCOMES[key], cause=cause)
        return True

    def _cause(self) -> str:
        """The second key: a cause's letter, s for none, u for back."""
        shown = [f"{letter} {cause}" for letter, cause in self._causes.items()]
        for first in range(0, len(shown), 5):
            say("    " + "".join(f"{one:<20}" for one in shown[first : first + 5]).rstrip())
        say("    s not known  u back")
        while True:
            key = self._press()
            if key == END or key in {"s", "u", "\n"} or key in self._causes:
                return key
            say(f"    {key!r} is none of these")

    def _undone(self, place: int) -> int:
        """Take back the last word; the place to ask again."""
        if not self._said:
            say("  nothing was said yet in this walk")
            return place
        place = self._said.pop()
        one = self._waiting[place]
        if one.kind is Subject.JOB:
            self._enter(one, outcome=Result.UNKNOWN.value)
        else:
            say(f"  {LETTERS[one.kind]}{one.id}: say it anew; the earlier word stands until you do")
        return place

    def _enter(self, one: Unlabelled, **said: Any) -> None:
        about = f"{LETTERS[one.kind]}{one.id}"
        self._put(about, said)
        words = ", ".join(str(word) for word in said.values() if word is not None)
        say(f"  {about}: {words}")
