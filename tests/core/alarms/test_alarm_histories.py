"""Whatever a machine and its people do, in any order: the rules of an alarm's life hold.

A history is a list of seconds with findings, acknowledgements and shelves. What is heard of it is judged from the outside,
by a bookkeeping of our own that knows only the recorded transitions and the messages.
"""

import copy
from collections import defaultdict
from dataclasses import replace
from typing import Any

import hypothesis.strategies as st
from hypothesis import settings
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule
from pydantic import TypeAdapter

from watchdog.core.alarms import book as alarms
from watchdog.core.alarms.alarm import REMINDING
from watchdog.core.alarms.book import Book
from watchdog.core.alarms.standing import Phase, announced, quiet
from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import AlarmChanged, Effect, Noted, Priority, Tell, TellKind, Transition
from watchdog.core.events import Acknowledge, Shelve, Unshelve
from watchdog.core.finding import Finding
from watchdog.core.moment import Moment

BOOKS = TypeAdapter(Book)

# A few alarms that suppress one another, one that nothing touches; delays of seconds, so that short histories reach far.
SOME = (
    "heat-runaway",
    "silent-hot",
    "link-lost",
    "card-fault",
    "heating-stalled",
    "job-stalled",
    "job-late",
    "hot-idle",
)
SMALL = {
    name: replace(TABLE[name], on_delay=float(place % 3), off_delay=float(place % 4)) for place, name in enumerate(SOME)
}
SMALL["hot-idle"] = replace(SMALL["hot-idle"], re_alarm_after=900.0)

names = st.sampled_from(SOME)
evidence = st.dictionaries(
    st.sampled_from(["nozzle", "below_for_s", "byte", "text"]),
    st.none() | st.integers(-300, 10**9) | st.floats(allow_nan=False, allow_infinity=False) | st.text(max_size=5),
    max_size=2,
)
findings = st.builds(
    Finding,
    present=st.sampled_from([True, True, False, False, None]),
    evidence=evidence,
    urgent=st.sampled_from([False, False, False, True]),
)


class Histories(RuleBasedStateMachine):
    """One machine's alarms, driven at random, with a second copy that is frozen to JSON and thawed before every event."""

    def __init__(self) -> None:
        super().__init__()
        self.book = Book()
        self.thawed = Book()
        self.seen = {name: Finding(False) for name in SOME}
        self.elapsed = 500.25
        self.open: dict[str, bool] = defaultdict(bool)
        self.acknowledged: dict[str, bool] = defaultdict(bool)
        self.urgent: dict[str, bool] = defaultdict(bool)
        self.occurrences: dict[str, int] = defaultdict(int)
        self.afresh: dict[str, bool] = defaultdict(bool)  # the rhythm of reminders may start again
        self.last_told: dict[tuple[str, int], tuple[int, float, float | None]] = {}

    @property
    def at(self) -> Moment:
        return Moment(self.elapsed, 1_772_442_000.0 - self.elapsed)  # the wall clock runs wild: it must not matter

    def both(self, act: Any, *rest: Any) -> tuple[Effect, ...]:
        self.thawed = BOOKS.validate_json(BOOKS.dump_json(self.thawed))
        before = copy.deepcopy(self.book)
        first: tuple[Book, tuple[Effect, ...]] = act(SMALL, self.book, *rest)
        assert self.book == before, "a book is never changed in place"
        self.book, said = first
        self.thawed, told_again = act(SMALL, self.thawed, *rest)
        assert (self.thawed, told_again) == first, "a book that was stored goes on like one that was not"
        self.judge(said)
        return said

    def judge(self, said: tuple[Effect, ...]) -> None:
        for effect in said:
            if isinstance(effect, AlarmChanged):
                self.judge_change(effect)
            elif isinstance(effect, Tell):
                self.judge_tell(effect)
            elif isinstance(effect, Noted):
                self.judge_note(effect)

    def judge_change(self, change: AlarmChanged) -> None:
        name = change.alarm
        match change.transition:
            case Transition.RAISED:
                assert not self.open[name], "raised again before it was cleared"
                assert self.seen[name].present, "raised without having been seen"
                self.occurrences[name] += 1
                assert change.occurrence == self.occurrences[name]
                self.open[name], self.acknowledged[name] = True, False
                self.urgent[name] = change.priority is Priority.URGENT
            case Transition.ACKNOWLEDGED:
                assert self.open[name]
                assert not self.acknowledged[name]
                self.acknowledged[name] = True
            case Transition.ESCALATED:
                assert self.open[name]
                assert not self.urgent[name]
                self.urgent[name], self.acknowledged[name] = True, False
            case Transition.CLEARED:
                assert self.open[name], "cleared what was not raised"
                assert self.acknowledged[name] or not self.urgent[name], "an urgent alarm cleared without a person"
                self.open[name] = False
            case Transition.RETURNED:
                assert self.open[name]
                assert self.seen[name].present is False, "returned without having been seen to end"
            case Transition.UNSHELVED:
                self.acknowledged[name] &= self.book.alarms[name].phase is not Phase.UNACKNOWLEDGED
                self.afresh[name] = True

    def judge_note(self, note: Noted) -> None:
        assert note.kind in {"held-back", "held-back-ended", "came-back", "told-again"}
        name = str(note.facts["alarm"])
        if note.kind in {"came-back", "told-again"}:
            assert self.open[name]
            self.acknowledged[name], self.afresh[name] = False, True

    def judge_tell(self, tell: Tell) -> None:
        standing = self.book.alarms[tell.alarm]
        assert not quiet(standing), "told while shelved or suppressed"
        identity = (tell.alarm, tell.occurrence)
        before = self.last_told.get(identity)
        assert tell.nth == (1 if before is None else before[0] + 1)
        if tell.kind is TellKind.ALL_CLEAR:
            assert tell.next_at is None
            assert not announced(standing)
            assert before is not None, "an all-clear of what nobody was told"
        else:
            assert standing.phase is Phase.UNACKNOWLEDGED, "an acknowledged alarm was told again"
            assert tell.next_at is not None
            assert 0 < tell.next_at <= REMINDING[tell.priority].longest
        if (
            tell.kind is TellKind.REMINDER
            and before is not None
            and before[2] is not None
            and not self.afresh[tell.alarm]
        ):
            assert self.elapsed >= before[1] + before[2], "a reminder before its time"
        self.last_told[identity] = (tell.nth, self.elapsed, tell.next_at)
        self.afresh[tell.alarm] = False

    @rule(name=names, finding=findings)
    def turns(self, name: str, finding: Finding) -> None:
        self.seen[name] = finding

    @rule(calm=st.just(Finding(False)))
    def all_calm(self, calm: Finding) -> None:
        self.seen = dict.fromkeys(SOME, calm)

    @rule(
        seconds=st.sampled_from([0.0, 0.1, 1.0, 1.0, 3.0, 60.0, 301.0, 1300.0, 4000.0, 90_000.0]), twice=st.booleans()
    )
    def time_passes(self, seconds: float, twice: bool) -> None:
        for _ in range(1 + twice):
            self.elapsed += seconds
            self.both(alarms.advance, self.seen, self.at)

    @rule(name=names | st.just("no-such-alarm"))
    def acknowledge(self, name: str) -> None:
        open_before, taken_before = self.open[name], self.acknowledged[name]
        said = self.both(alarms.acknowledge, Acknowledge(self.at, name, "duty warden", "mqtt"))
        assert bool(said) is (open_before and not taken_before)

    @rule(name=names, seconds=st.sampled_from([-1.0, 5.0, 300.0, 3600.0, 1e6]))
    def shelve(self, name: str, seconds: float) -> None:
        said = self.both(alarms.shelve, Shelve(self.at, name, seconds, "evening tutor", "bench work"))
        assert bool(said) is (seconds > 0)

    @rule(name=names)
    def unshelve(self, name: str) -> None:
        self.both(alarms.unshelve, Unshelve(self.at, name, "evening tutor"))

    @invariant()
    def no_shelf_outlasts_a_day_and_standing_tells_what_is_open(self) -> None:
        for name, one in self.book.alarms.items():
            assert one.shelf is None or one.shelf.until <= self.elapsed + 86_400
            stands = announced(one) or one.phase is Phase.RETURNED
            assert stands is self.open[name]
        shown = {name for name, _ in alarms.standing(self.book)}
        assert {name for name, is_open in self.open.items() if is_open} <= shown


TestHistories = Histories.TestCase
TestHistories.settings = settings(max_examples=150, stateful_step_count=40, deadline=None)
