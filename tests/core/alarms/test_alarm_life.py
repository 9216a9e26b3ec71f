"""Every path of an alarm's life, second by second: what is recorded and what is told, and when."""

from collections.abc import Mapping
from dataclasses import replace

import pytest

from watchdog.core.alarms import book as alarms
from watchdog.core.alarms.alarm import Alarm
from watchdog.core.alarms.book import Book
from watchdog.core.alarms.standing import Phase, Standing
from watchdog.core.alarms.table import TABLE
from watchdog.core.alarms.telling import TO_ACKNOWLEDGE
from watchdog.core.effects import AlarmChanged, Effect, Noted, Priority, Tell
from watchdog.core.events import Acknowledge, Shelve, Unshelve
from watchdog.core.finding import Finding
from watchdog.core.moment import Moment

EPOCH = 1_772_442_000.0

HIGH = replace(TABLE["heat-not-holding"], name="plain", on_delay=5.0, off_delay=10.0, remind_after=300.0, suppresses=())
URGENT = replace(
    TABLE["silent-hot"], name="grave", on_delay=0.0, off_delay=10.0, remind_after=120.0, suppresses=("plain",)
)
CAUSE = replace(HIGH, name="cause", on_delay=0.0, suppresses=("plain", "grave", "middle"))
MIDDLE = replace(HIGH, name="middle", on_delay=0.0, suppresses=("plain",))
BENCH: Mapping[str, Alarm] = {row.name: row for row in (CAUSE, URGENT, MIDDLE, HIGH)}


class Bench:
    """A machine's alarms on a hand-turned clock. `heard` holds what was said, in short words with its second."""

    def __init__(self, table: Mapping[str, Alarm] = BENCH) -> None:
        self.table = table
        self.book = Book()
        self.now = 0
        self.findings: dict[str, Finding] = {name: Finding(False) for name in table}
        self.heard: list[tuple[int, str, str]] = []
        self.effects: list[Effect] = []

    @property
    def at(self) -> Moment:
        return Moment(1000.0 + self.now, EPOCH + self.now)

    def see(self, name: str, present: bool | None, urgent: bool = False) -> "Bench":
        self.findings[name] = Finding(present, {"seen_s": self.now} if present else {}, urgent)
        return self

    def run(self, until: int) -> "Bench":
        """Tick each second from now up to and including `until`."""
        while self.now <= until:
            self.book, effects = alarms.advance(self.table, self.book, self.findings, self.at)
            self._hear(effects)
            self.now += 1
        return self

    def acknowledge(self, name: str) -> bool:
        event = Acknowledge(self.at, name, "workshop lead", "command")
        self.book, effects = alarms.acknowledge(self.table, self.book, event)
        return self._hear(effects)

    def shelve(self, name: str, seconds: float, reason: str = "heater block on the bench") -> bool:
        event = Shelve(self.at, name, seconds, "workshop lead", reason)
        self.book, effects = alarms.shelve(self.table, self.book, event)
        return self._hear(effects)

    def unshelve(self, name: str) -> bool:
        self.book, effects = alarms.unshelve(self.table, self.book, Unshelve(self.at, name, "workshop lead"))
        return self._hear(effects)

    def _hear(self, effects: tuple[Effect, ...]) -> bool:
        self.effects += effects
        for effect in effects:
            if isinstance(effect, AlarmChanged):
                self.heard.append((self.now, effect.alarm, effect.transition.value))
            elif isinstance(effect, Tell):
                self.heard.append((self.now, effect.alarm, f"tell {effect.kind.value} {effect.nth}"))
            elif isinstance(effect, Noted):
                self.heard.append((self.now, str(effect.facts["alarm"]), f"noted {effect.kind}"))
        return bool(effects)

    def of(self, name: str) -> list[tuple[int, str]]:
        return [(second, said) for second, alarm, said in self.heard if alarm == name]

    def tells(self, name: str) -> list[Tell]:
        return [effect for effect in self.effects if isinstance(effect, Tell) and effect.alarm == name]

    def changes(self, name: str) -> list[AlarmChanged]:
        return [effect for effect in self.effects if isinstance(effect, AlarmChanged) and effect.alarm == name]

    def standing(self, name: str) -> Standing:
        return self.book.alarms[name]


def raised_at_5() -> Bench:
    return Bench().see("plain", True).run(5)


# ---------------------------------------------------------------- delays


def test_a_condition_is_announced_once_its_on_delay_has_passed() -> None:
    bench = raised_at_5().run(100)
    assert bench.of("plain") == [(5, "raised"), (5, "tell alarm 1")]
    [tell] = bench.tells("plain")
    assert tell.since == Moment(1005.0, EPOCH + 5)
    assert (tell.priority, tell.occurrence, tell.next_at) == (Priority.HIGH, 1, 300.0)
    assert tell.evidence == {"seen_s": 0}


def test_a_break_starts_the_on_delay_anew() -> None:
    """A short spike is nothing to walk across the hall for."""
    bench = Bench().see("plain", True).run(4).see("plain", False).run(5).see("plain", True).run(10)
    assert bench.heard == []
    assert bench.run(11).of("plain") == [(11, "raised"), (11, "tell alarm 1")]


def test_cannot_tell_stops_the_on_delay_where_it_is() -> None:
    bench = Bench().see("plain", True).run(3).see("plain", None).run(60)
    assert bench.heard == []
    assert bench.standing("plain").phase is Phase.MATURING
    assert bench.see("plain", True).run(62).heard == []
    assert bench.run(63).of("plain")[0] == (63, "raised")


def test_cannot_tell_raises_nothing() -> None:
    bench = Bench().see("grave", None).see("plain", None).run(100)
    assert bench.heard == []
    assert bench.book == Book()


def test_an_alarm_returns_and_clears_with_one_all_clear_after_its_off_delay() -> None:
    """Who cools the nozzle at the machine need not open an app to be left in peace."""
    bench = raised_at_5().see("plain", False).run(15)
    assert len(bench.heard) == 2
    bench.run(400)
    assert bench.of("plain")[2:] == [(16, "returned"), (16, "cleared"), (16, "tell all-clear 2")]
    assert bench.tells("plain")[-1].next_at is None
    assert bench.standing("plain").phase is Phase.NORMAL


def test_a_condition_that_is_back_within_the_off_delay_never_went() -> None:
    bench = raised_at_5().see("plain", False).run(14).see("plain", True).run(20).see("plain", False).run(29)
    assert bench.of("plain") == [(5, "raised"), (5, "tell alarm 1")]


def test_cannot_tell_stops_the_off_delay_where_it_is() -> None:
    """A machine that is no longer seen has not recovered."""
    bench = raised_at_5().see("plain", False).run(10).see("plain", None).run(200)
    assert len(bench.heard) == 2
    bench.see("plain", False)
    assert bench.run(207).of("plain")[2:4] == [(207, "returned"), (207, "cleared")]


def test_cannot_tell_returns_nothing_even_without_an_off_delay() -> None:
    bench = Bench({"plain": replace(HIGH, off_delay=0.0)}).see("plain", True).run(5).see("plain", None).run(50)
    assert bench.of("plain") == [(5, "raised"), (5, "tell alarm 1")]
    assert bench.see("plain", False).run(51).of("plain")[2:4] == [(51, "returned"), (51, "cleared")]


def test_a_clock_that_steps_back_counts_for_nothing() -> None:
    bench = Bench().see("plain", True).run(3)
    bench.now = 0
    bench.run(1)
    assert bench.standing("plain").held == 4.0
    assert bench.heard == []


# ---------------------------------------------------------------- reminders and acknowledgement


def test_reminders_come_until_somebody_acknowledges() -> None:
    bench = raised_at_5().run(3800)
    assert bench.of("plain")[1:] == [
        (5, "tell alarm 1"),
        (305, "tell reminder 2"),
        (905, "tell reminder 3"),
        (2105, "tell reminder 4"),
    ]
    assert [tell.next_at for tell in bench.tells("plain")] == [300.0, 600.0, 1200.0, 1800.0]
    assert bench.tells("plain")[-1].evidence == {"seen_s": 0}


def test_a_pause_set_longer_than_the_longest_is_kept() -> None:
    bench = Bench({"plain": replace(HIGH, remind_after=7200.0)}).see("plain", True).run(15_000)
    assert bench.of("plain")[2:] == [(7205, "tell reminder 2"), (14405, "tell reminder 3")]


def test_an_acknowledged_alarm_is_quiet_and_gives_its_all_clear() -> None:
    bench = raised_at_5()
    assert bench.acknowledge("plain")
    bench.run(5000).see("plain", False).run(5100)
    assert bench.of("plain")[2:] == [
        (6, "acknowledged"),
        (5011, "returned"),
        (5011, "cleared"),
        (5011, "tell all-clear 2"),
    ]
    taken = bench.changes("plain")[1]
    assert (taken.by, taken.how) == ("workshop lead", "command")


def test_the_alarm_remembers_who_took_it_on() -> None:
    bench = raised_at_5()
    bench.acknowledge("plain")
    taken = bench.standing("plain").acknowledged
    assert taken is not None
    assert (taken.by, taken.how, taken.at) == ("workshop lead", "command", bench.at)


@pytest.mark.parametrize("name", ["plain", "grave", "no-such-alarm"])
def test_acknowledging_what_does_not_stand_says_nothing(name: str) -> None:
    bench = Bench().run(3)
    before = bench.book
    assert not bench.acknowledge(name)
    assert bench.book is before


def test_acknowledging_twice_or_before_it_is_raised_says_nothing() -> None:
    bench = Bench().see("plain", True).run(2)
    assert not bench.acknowledge("plain")
    bench.run(5)
    assert bench.acknowledge("plain")
    assert not bench.acknowledge("plain")


def test_reminders_rest_while_the_condition_seems_gone_and_while_unknown_go_on() -> None:
    bench = raised_at_5().run(299).see("plain", False).run(308).see("plain", True).run(309)
    assert bench.of("plain")[2:] == [(309, "tell reminder 2")]
    bench = raised_at_5().see("plain", None).run(305)
    assert bench.of("plain")[2:] == [(305, "tell reminder 2")]


def test_an_acknowledged_alarm_is_told_again_only_where_the_settings_ask_for_it() -> None:
    bench = Bench({"plain": replace(HIGH, re_alarm_after=900.0)}).see("plain", True).run(5)
    bench.acknowledge("plain")
    bench.run(1300)
    assert bench.of("plain")[3:] == [(906, "noted told-again"), (906, "tell reminder 2"), (1206, "tell reminder 3")]
    assert bench.standing("plain").phase is Phase.UNACKNOWLEDGED


def test_after_a_long_blindness_one_reminder_is_due_and_not_all_that_were_missed() -> None:
    bench = raised_at_5()
    bench.now = 40_000
    bench.run(40_010)
    assert bench.of("plain")[2:] == [(40_000, "tell reminder 2")]


def test_each_raising_counts_one_occurrence() -> None:
    bench = raised_at_5().see("plain", False).run(1000).see("plain", True).run(1006)
    assert [change.occurrence for change in bench.changes("plain")] == [1, 1, 1, 2]
    assert bench.tells("plain")[-1].nth == 1


# ---------------------------------------------------------------- latching


def test_an_urgent_alarm_stays_until_a_person_acknowledges() -> None:
    """A runaway that ended by itself must still be looked at."""
    bench = Bench().see("grave", True).run(0).see("grave", False).run(5000)
    assert bench.of("grave") == [(0, "raised"), (0, "tell alarm 1"), (11, "returned"), (11, "tell all-clear 2")]
    assert bench.tells("grave")[-1].evidence[TO_ACKNOWLEDGE]
    assert bench.standing("grave").phase is Phase.RETURNED
    assert bench.acknowledge("grave")
    assert bench.of("grave")[4:] == [(5001, "acknowledged"), (5001, "cleared")]
    assert bench.standing("grave").phase is Phase.NORMAL


def test_an_urgent_alarm_that_was_acknowledged_clears_when_it_returns() -> None:
    bench = Bench().see("grave", True).run(0)
    bench.acknowledge("grave")
    bench.see("grave", False).run(50)
    assert bench.of("grave")[2:] == [(1, "acknowledged"), (11, "returned"), (11, "cleared"), (11, "tell all-clear 2")]
    assert TO_ACKNOWLEDGE not in bench.tells("grave")[-1].evidence


def test_a_latched_alarm_that_comes_back_is_the_same_occurrence_and_is_told() -> None:
    bench = Bench().see("grave", True).run(0).see("grave", False).run(99).see("grave", True).run(230)
    assert bench.of("grave")[4:] == [(100, "noted came-back"), (100, "tell reminder 3"), (220, "tell reminder 4")]
    assert {change.occurrence for change in bench.changes("grave")} == {1}
    assert bench.tells("grave")[2].since == Moment(1000.0, EPOCH)
    bench.see("grave", False).run(300)
    assert bench.of("grave")[7:] == [(241, "returned"), (241, "tell all-clear 5")]


def test_acknowledging_a_returned_alarm_keeps_the_on_delay_of_its_next_raising() -> None:
    bench = Bench({"grave": replace(URGENT, on_delay=5.0, suppresses=())})
    bench.see("grave", True).run(5).see("grave", False).run(29).see("grave", True).run(32)
    assert bench.acknowledge("grave")
    assert bench.standing("grave").phase is Phase.MATURING
    bench.run(40)
    assert bench.of("grave")[4:] == [(33, "acknowledged"), (33, "cleared"), (35, "raised"), (35, "tell alarm 1")]


# ---------------------------------------------------------------- escalation


def test_a_finding_that_turns_urgent_lifts_the_alarm_and_asks_again() -> None:
    """Who took on a card fault has not taken on a machine that froze with its heater on."""
    bench = raised_at_5()
    bench.acknowledge("plain")
    bench.run(9).see("plain", True, urgent=True).run(200)
    assert bench.of("plain")[3:] == [(10, "escalated"), (10, "tell escalated 2"), (130, "tell reminder 3")]
    assert bench.tells("plain")[1].priority is Priority.URGENT
    assert bench.tells("plain")[1].next_at == 120.0


def test_a_lifted_alarm_never_comes_down_and_latches() -> None:
    bench = raised_at_5().see("plain", True, urgent=True).run(6).see("plain", True).run(20).see("plain", False).run(40)
    assert bench.of("plain")[2:] == [
        (6, "escalated"),
        (6, "tell escalated 2"),
        (31, "returned"),
        (31, "tell all-clear 3"),
    ]
    assert bench.changes("plain")[-1].priority is Priority.URGENT
    bench.acknowledge("plain")
    bench.see("plain", True).run(60)
    assert bench.changes("plain")[-1].priority is Priority.HIGH, "the next occurrence starts at the row's own priority"


def test_a_finding_that_is_urgent_from_the_start_is_raised_urgent_without_an_escalation() -> None:
    bench = Bench().see("plain", True, urgent=True).run(20)
    assert bench.of("plain") == [(5, "raised"), (5, "tell alarm 1")]
    assert bench.changes("plain")[0].priority is Priority.URGENT


def test_an_absent_or_unknown_finding_lifts_nothing() -> None:
    bench = raised_at_5()
    bench.see("plain", None, urgent=True).run(10).see("plain", False, urgent=True).run(12)
    assert [said for _, said in bench.of("plain")] == ["raised", "tell alarm 1"]


def test_a_latched_alarm_of_lower_priority_that_comes_back_urgent_is_escalated() -> None:
    bench = Bench({"plain": replace(HIGH, latched=True)}).see("plain", True).run(5).see("plain", False).run(30)
    bench.see("plain", True, urgent=True).run(40)
    assert bench.of("plain")[4:] == [(36, "escalated"), (36, "tell escalated 3")]


# ---------------------------------------------------------------- chatter


def again(bench: Bench, times: int, every: int = 60, up: int = 10) -> Bench:
    """Raise and clear `plain` `times` times."""
    for _ in range(times):
        start = bench.now
        bench.see("plain", True).run(start + up).see("plain", False).run(start + every - 1)
    return bench


def test_the_third_raising_in_ten_minutes_says_that_it_returns_and_the_next_ones_are_only_recorded() -> None:
    """Twenty messages about one loose plug teach people to ignore all of them."""
    bench = again(Bench(), 12)
    assert sum(change.transition == "raised" for change in bench.changes("plain")) == 12
    assert sum(change.transition == "cleared" for change in bench.changes("plain")) == 12
    told = [(tell.kind.value, tell.evidence.get("returns")) for tell in bench.tells("plain")]
    assert told == [
        ("alarm", None), ("all-clear", None), ("alarm", None), ("all-clear", None), ("alarm", 3), ("all-clear", None),
    ]  # fmt: skip


def test_a_chattering_alarm_is_told_once_an_hour() -> None:
    bench = again(Bench(), 150)
    assert [tell.evidence.get("returns") for tell in bench.tells("plain") if tell.kind == "alarm"] == [
        None, None, 3, 63, 123,
    ]  # fmt: skip


def test_a_chattering_alarm_that_stays_is_told_after_the_time_of_a_reminder() -> None:
    bench = again(Bench(), 4)
    bench.see("plain", True).run(240 + 5 + 300)
    assert bench.of("plain")[-2:] == [(245, "raised"), (545, "tell alarm 1")]
    assert bench.tells("plain")[-1].evidence["returns"] == 5


def test_ten_calm_minutes_end_the_burst() -> None:
    bench = again(Bench(), 5).run(5 * 60 + 600)
    before = len(bench.tells("plain"))
    again(bench, 1)
    assert [tell.kind for tell in bench.tells("plain")[before:]] == ["alarm", "all-clear"]


def test_an_urgent_alarm_is_told_each_time() -> None:
    bench = Bench()
    for _ in range(6):
        start = bench.now
        bench.see("grave", True).run(start)
        bench.acknowledge("grave")
        bench.see("grave", False).run(start + 59)
    assert [tell.kind.value for tell in bench.tells("grave")] == ["alarm", "all-clear"] * 6
    assert bench.tells("grave")[-2].evidence["returns"] == 6


# ---------------------------------------------------------------- suppression


def test_an_alarm_that_only_follows_is_not_told_and_is_raised_when_its_cause_has_gone() -> None:
    bench = Bench().see("cause", True).see("plain", True).run(99)
    assert bench.of("plain") == [(5, "noted held-back")]
    assert bench.standing("plain").suppressed_by == "cause"
    bench.see("cause", False).run(200)
    assert bench.of("cause")[2][0] == 110
    assert bench.of("plain")[1:] == [(110, "raised"), (110, "tell alarm 1")]


def test_an_alarm_that_comes_and_goes_behind_its_cause_is_only_noted() -> None:
    bench = (
        Bench().see("cause", True).see("plain", True).run(50).see("plain", False).run(60).see("cause", False).run(99)
    )
    assert bench.of("plain") == [(5, "noted held-back"), (51, "noted held-back-ended")]
    assert bench.effects[2] == Noted(
        Moment(1005.0, EPOCH + 5),
        "held-back",
        {"seen_s": 0, "alarm": "plain", "occurrence": 0, "silenced_by": "cause"},
    )


def test_an_alarm_raised_before_its_cause_stands_without_reminders_until_the_cause_has_gone() -> None:
    bench = raised_at_5().run(99).see("cause", True).run(1000)
    assert bench.of("plain") == [(5, "raised"), (5, "tell alarm 1")]
    assert bench.standing("plain").phase is Phase.UNACKNOWLEDGED
    bench.see("cause", False).run(1100)
    assert bench.of("plain")[2:] == [(1011, "tell reminder 2")]


def test_an_alarm_that_ends_behind_its_cause_is_cleared_without_a_word() -> None:
    bench = raised_at_5().run(99).see("cause", True).run(100).see("plain", False).run(200)
    assert bench.of("plain")[2:] == [(111, "returned"), (111, "cleared")]


def test_an_urgent_alarm_is_never_suppressed() -> None:
    """`cause` names `grave` among what it suppresses, as a wrong setting might: the urgent alarm is told all the same."""
    bench = Bench().see("cause", True).see("grave", True).run(1)
    assert bench.of("grave") == [(0, "raised"), (0, "tell alarm 1")]


def test_an_alarm_that_is_lifted_to_urgent_is_told_behind_its_cause() -> None:
    bench = Bench().see("cause", True).see("plain", True).run(20).see("plain", True, urgent=True).run(30)
    assert bench.of("plain") == [(5, "noted held-back"), (21, "raised"), (21, "tell alarm 1")]


def test_a_held_back_cause_holds_back_what_follows_from_it() -> None:
    bench = Bench({name: BENCH[name] for name in ("cause", "middle", "plain")})
    bench.table = {**bench.table, "cause": replace(CAUSE, suppresses=("middle",))}
    bench.see("cause", True).see("middle", True).see("plain", True).run(50)
    assert bench.of("plain") == [(5, "noted held-back")]
    assert bench.standing("plain").suppressed_by == "middle"


def test_an_unknown_cause_that_nobody_was_told_of_hides_nothing() -> None:
    """`middle` was held back, its own cause is over, and now nobody can tell: `plain` must not stay hidden behind it."""
    bench = Bench().see("cause", True).see("middle", True).see("plain", True).run(50)
    bench.see("cause", False).see("middle", None).run(70)
    assert bench.of("plain") == [(5, "noted held-back"), (61, "raised"), (61, "tell alarm 1")]


def test_an_acknowledged_cause_still_suppresses_and_a_returned_one_does_not() -> None:
    bench = Bench().see("grave", True).run(0)
    bench.acknowledge("grave")
    bench.see("plain", True).run(100)
    assert bench.of("plain") == [(6, "noted held-back")]
    bench = Bench().see("grave", True).run(0).see("grave", False).run(20).see("plain", True).run(30)
    assert bench.of("plain") == [(26, "raised"), (26, "tell alarm 1")]


# ---------------------------------------------------------------- shelves


def test_a_shelved_alarm_is_evaluated_in_silence_and_told_when_the_time_is_over() -> None:
    bench = Bench().run(0)
    assert bench.shelve("plain", 100)
    bench.see("plain", True).run(200)
    assert bench.of("plain") == [
        (1, "shelved"),
        (6, "noted held-back"),
        (101, "unshelved"),
        (101, "raised"),
        (101, "tell alarm 1"),
    ]
    shelved, unshelved = bench.changes("plain")[:2]
    assert (shelved.by, shelved.note, shelved.evidence) == (
        "workshop lead",
        "heater block on the bench",
        {"shelved_s": 100},
    )
    assert (unshelved.by, unshelved.note) == (None, "its time is over")


def test_a_shelf_that_ends_over_a_normal_alarm_tells_nobody() -> None:
    bench = Bench().run(0)
    bench.shelve("plain", 60)
    assert bench.run(100).of("plain") == [(1, "shelved"), (61, "unshelved")]


def test_a_standing_alarm_on_the_shelf_is_told_as_if_new_afterwards() -> None:
    bench = raised_at_5()
    bench.acknowledge("plain")
    bench.shelve("plain", 1000)
    bench.run(1400)
    assert bench.of("plain")[4:] == [(1006, "unshelved"), (1006, "tell reminder 2"), (1306, "tell reminder 3")]


def test_a_standing_alarm_that_ends_on_the_shelf_clears_without_a_word() -> None:
    bench = raised_at_5()
    bench.shelve("plain", 1000)
    bench.see("plain", False).run(1500)
    assert bench.of("plain")[2:] == [(6, "shelved"), (16, "returned"), (16, "cleared"), (1006, "unshelved")]


def test_a_person_can_end_a_shelf_early() -> None:
    bench = Bench().run(0)
    assert not bench.unshelve("plain")
    bench.shelve("plain", 1000)
    bench.see("plain", True).run(50)
    assert bench.unshelve("plain")
    bench.run(60)
    assert bench.of("plain")[2:] == [(51, "unshelved"), (51, "raised"), (51, "tell alarm 1")]
    assert bench.changes("plain")[1].by == "workshop lead"


@pytest.mark.parametrize(("name", "granted"), [("plain", 86400.0), ("grave", 3600.0)])
def test_no_shelf_lasts_longer_than_is_allowed(name: str, granted: float) -> None:
    bench = Bench()
    bench.shelve(name, 10 * 86400, reason="")
    shelf, [change] = bench.standing(name).shelf, bench.changes(name)
    assert shelf is not None
    assert shelf.until == 1000.0 + granted
    assert change.evidence == {"shelved_s": granted}
    assert change.note is None


@pytest.mark.parametrize("seconds", [0.0, -5.0, float("nan"), float("inf")])
def test_a_shelf_without_a_proper_time_is_refused(seconds: float) -> None:
    bench = Bench()
    assert not bench.shelve("plain", seconds)
    assert bench.book == Book()


def test_what_becomes_urgent_leaves_its_shelf() -> None:
    """Silence was asked for a nuisance, not for this."""
    bench = raised_at_5()
    bench.shelve("plain", 1000)
    bench.see("plain", True, urgent=True).run(10)
    assert bench.of("plain")[3:] == [(6, "unshelved"), (6, "escalated"), (6, "tell escalated 2")]
    assert bench.changes("plain")[2].note == "has become urgent"


def test_a_shelved_alarm_hides_no_other() -> None:
    bench = Bench().see("cause", True).run(0)
    bench.shelve("cause", 1000)
    bench.see("plain", True).run(10)
    assert bench.of("plain") == [(6, "raised"), (6, "tell alarm 1")]


# ---------------------------------------------------------------- the book


def test_a_second_without_news_gives_the_same_book_back() -> None:
    bench = Bench().run(10)
    assert bench.book == Book()
    bench.see("plain", True).run(20)
    bench.see("plain", False).run(60)
    before = bench.book
    bench.run(70)
    assert bench.book is before


def test_a_standing_alarm_without_news_gives_the_same_book_back() -> None:
    """The store writes when the book changes: once a second would wear out a memory card."""
    bench = raised_at_5()
    before = bench.run(6).book
    assert bench.run(60).book is before


def test_an_alarm_without_a_detector_stays_as_it_is() -> None:
    bench = raised_at_5()
    del bench.findings["plain"]
    bench.run(100)
    assert bench.standing("plain").phase is Phase.UNACKNOWLEDGED


def test_status_shows_what_stands_most_pressing_first() -> None:
    bench = Bench().see("plain", True).run(10)
    bench.shelve("middle", 100)
    bench.see("grave", True).run(11)
    bench.see("cause", True).run(12)
    assert [name for name, _ in alarms.standing(bench.book)] == ["grave", "plain", "cause", "middle"]
    assert alarms.standing(Book()) == ()


# ---------------------------------------------------------------- an incident that grows

SEED = replace(HIGH, name="seed", on_delay=0.0)
GROWN = replace(URGENT, name="grown", suppresses=("seed",), grows_from=("seed",))
GROWING: Mapping[str, Alarm] = {row.name: row for row in (GROWN, SEED)}


def test_an_urgent_alarm_that_grows_from_one_that_was_told_is_said_as_the_same_incident() -> None:
    """Who is at the machine already learns that it has become urgent, and need not look for a second fault."""
    bench = Bench(GROWING).see("seed", True).run(10).see("grown", True).run(11)
    assert bench.of("grown") == [(11, "raised"), (11, "tell escalated 1")]
    [tell] = bench.tells("grown")
    assert (tell.priority, tell.since.elapsed, tell.next_at) == (Priority.URGENT, 1011.0, 120.0)
    bench.run(400)
    assert [kind for _, kind in bench.of("seed")] == ["raised", "tell alarm 1"], "the grown one speaks for both"
    assert bench.of("grown")[2] == (131, "tell reminder 2")


def test_an_acknowledged_incident_that_grows_is_told_again() -> None:
    bench = Bench(GROWING).see("seed", True).run(10)
    bench.acknowledge("seed")
    assert bench.see("grown", True).run(11).of("grown") == [(11, "raised"), (11, "tell escalated 1")]


@pytest.mark.parametrize("why", ["not there", "shelved", "over", "another heater"])
def test_without_an_incident_that_people_know_of_it_is_an_alarm_of_its_own(why: str) -> None:
    bench = Bench(GROWING)
    if why != "not there":
        bench.findings["seed"] = Finding(True, {"heater": "bed"})
        bench.run(10)
    if why == "shelved":
        bench.shelve("seed", 600.0)
    if why == "over":
        bench.see("seed", False).run(100)
    bench.findings["grown"] = Finding(True, {"heater": "nozzle"})
    bench.run(bench.now)
    assert bench.of("grown")[-1][1] == "tell alarm 1"


def test_the_same_heater_by_whatever_name_and_one_that_is_not_named_is_the_same_incident() -> None:
    for first, then in (
        ({"heater": "bed"}, {"sensor": "bed"}),
        ({}, {"heater": "bed"}),
        ({"heater": "bed"}, {"heater": None}),
    ):
        bench = Bench(GROWING)
        bench.findings["seed"] = Finding(True, first)
        bench.run(10)
        bench.findings["grown"] = Finding(True, then)
        assert bench.run(11).of("grown")[-1] == (11, "tell escalated 1")


def test_a_heaters_own_guard_is_told_as_what_the_watch_has_told_before_grown() -> None:
    """The real table: a loose heater, then the controller's verdict; nothing that follows is a second incident."""
    bench = Bench(TABLE).see("heat-not-holding", True).run(5).see("heating-stalled", True).run(10)
    bench.see("heat-runaway", True).see("silent-hot", True).run(20)
    said = [(alarm, kind) for _, alarm, kind in bench.heard if kind.startswith("tell")]
    assert said == [
        ("heat-not-holding", "tell alarm 1"),
        ("heat-runaway", "tell escalated 1"),
        ("silent-hot", "tell escalated 1"),
    ]


def test_a_broken_sensor_hides_what_follows_from_its_reading_and_nothing_urgent() -> None:
    bench = Bench(TABLE).see("temperature-implausible", True).run(5)
    bench.see("heat-not-holding", True).see("heating-stalled", True).run(10)
    assert [alarm for _, alarm, kind in bench.heard if kind.startswith("tell")] == ["temperature-implausible"]
    bench.see("heating-stalled", True, urgent=True).run(11)
    assert bench.of("heating-stalled")[-2:] == [(11, "raised"), (11, "tell escalated 1")]


# ---------------------------------------------------------------- covered


def covered() -> Bench:
    """`plain` follows from `cause` and asks for the same."""
    bench = Bench({"cause": replace(CAUSE, suppresses=(), covers=("plain",)), "plain": HIGH})
    bench.see("cause", True).run(0)
    bench.see("plain", True).run(60)
    return bench


def test_what_asks_for_the_same_is_not_told_beside_an_alarm_that_nobody_has_taken_on() -> None:
    bench = covered()
    assert not [said for at, name, said in bench.heard if name == "plain" and "noted" not in said]
    assert bench.standing("plain").suppressed_by == "cause"


def test_once_somebody_has_taken_it_on_the_other_is_told_as_ever() -> None:
    """Who took it on may have forgotten it: the nozzle must not stand hot without a word."""
    bench = covered()
    bench.acknowledge("cause")
    bench.run(62)
    assert (61, "plain", "tell alarm 1") in bench.heard


def test_it_is_told_as_well_when_the_first_one_has_gone_or_is_shelved() -> None:
    bench = covered()
    bench.see("cause", False).run(80)
    assert [at for at, name, said in bench.heard if (name, said) == ("plain", "tell alarm 1")] == [71]
    bench = covered()
    bench.shelve("cause", 600)
    bench.run(62)
    assert (61, "plain", "tell alarm 1") in bench.heard
