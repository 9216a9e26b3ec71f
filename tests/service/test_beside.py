"""What is decided beside the world of a machine: the ladder, the notices and the protective action in one row."""

from dataclasses import replace

from watchdog.core import cooling
from watchdog.core.alarms.book import Book
from watchdog.core.alarms.standing import Phase, Standing
from watchdog.core.alarms.table import TABLE
from watchdog.core.detectors import MACHINE
from watchdog.core.effects import AlarmChanged, JobChanged, Noted, Priority, Tell, TellKind, Transition
from watchdog.core.events import Line, Tick
from watchdog.core.machine import Limits as MachineLimits
from watchdog.core.moment import Moment
from watchdog.core.notices.notice import JOB_FINISHED, WAS_BLIND
from watchdog.core.routing import Recipient, usual
from watchdog.core.snapshot import Source
from watchdog.core.step import Armed, Watch, World, begin, look, step
from watchdog.core.traffic import Direction
from watchdog.dialect import read
from watchdog.service.beside import Blind, Memories, Repair, Wishes, after_step, each_second, freeze, thaw, uncooled

PEOPLE = (Recipient("workshop-lead"), Recipient("duty-warden"))
WATCH = Watch(
    "doorway-1",
    Source.SERIAL,
    MachineLimits(),
    tuple(Armed(detector, detector.Limits()) for detector in MACHINE),
    {detector.NAME: TABLE[detector.NAME] for detector in MACHINE},
)
WISHES = Wishes(usual(PEOPLE), notices=frozenset({JOB_FINISHED, WAS_BLIND}))


def at(elapsed: float) -> Moment:
    return Moment(stamp=1.77e9 + elapsed, elapsed=elapsed)


def forgotten(until: float) -> World:
    """A machine that reports a hot nozzle every two seconds and does nothing, from 0 to `until`."""
    world = begin(WATCH, at(0))
    for second in range(int(until) + 1):
        if second % 2 == 0:
            text = "ok T:205.0 /205.0 B:24.0 /0.0 @:40 B@:0"
            world, _ = step(WATCH, world, Line(at(second), Direction.RECEIVED, text, read(Direction.RECEIVED, text)))
        world, _ = step(WATCH, world, Tick(at(second)))
    return world


def told(alarm: str = "hot-idle") -> Tell:
    return Tell(at(700), TellKind.ALARM, alarm, 1, Priority.HIGH, at(700), 1, {}, 300.0)


def test_the_first_in_line_is_told_and_the_next_when_nobody_answers() -> None:
    decided = after_step(WISHES, Memories(), WATCH, (told(),), at(700))
    assert [order.person for order in decided.orders] == ["workshop-lead"]
    later = after_step(WISHES, decided.memories, WATCH, (), at(700 + 600))
    assert [order.person for order in later.orders] == ["duty-warden"]


def test_an_alarm_that_is_only_to_be_recorded_reaches_nobody() -> None:
    silent = replace(WISHES, unspoken=frozenset({"hot-idle"}))
    assert after_step(silent, Memories(), WATCH, (told(),), at(700)).orders == ()


def test_what_is_remembered_survives_a_restart_with_the_ladder_half_climbed() -> None:
    """After a restart the second person must still be told, and the first not twice."""
    decided = after_step(WISHES, Memories(), WATCH, (told(),), at(700))
    again = thaw(freeze(decided.memories))
    assert again == decided.memories
    later = after_step(WISHES, again, WATCH, (), at(1300))
    assert [order.person for order in later.orders] == ["duty-warden"]


def test_a_machine_in_repair_tells_only_what_is_urgent_and_comes_back_by_itself() -> None:
    """Somebody has the nozzle apart: no phone rings for that, but a runaway is still told."""
    repaired = Memories(repair=Repair(1000.0, "workshop-lead", "new nozzle"))
    assert after_step(WISHES, repaired, WATCH, (told(),), at(700)).orders == ()
    urgent = told("heat-runaway")._replace(priority=Priority.URGENT)
    assert [order.person for order in after_step(WISHES, repaired, WATCH, (urgent,), at(700)).orders] == [
        "workshop-lead"
    ]
    over = after_step(WISHES, repaired, WATCH, (told(),), at(1000))
    assert over.memories.repair is None
    assert [effect.kind for effect in over.effects if isinstance(effect, Noted)] == ["in-service"]
    assert [order.person for order in over.orders] == ["workshop-lead"]


def test_what_was_raised_in_a_repair_and_still_stands_is_told_at_its_end() -> None:
    """The nozzle is changed, the machine is back, and still hot: the next reminder may be an hour away."""
    stands = Standing(phase=Phase.UNACKNOWLEDGED, occurrence=1, raised=at(800), priority=Priority.HIGH, due=3000.0)
    book = Book({"hot-idle": stands})
    repaired = Memories(repair=Repair(1000.0, "workshop-lead", "new nozzle"))
    away = after_step(WISHES, repaired, WATCH, (), at(900), book)
    assert (away.memories.repair, away.orders) == (repaired.repair, ())
    back = after_step(WISHES, away.memories, WATCH, (), at(1000), book)
    assert [(order.person, order.tell.nth, order.tell.next_at) for order in back.orders] == [("workshop-lead", 1, 2000)]
    assert after_step(WISHES, back.memories, WATCH, (), at(1001), book).orders == ()
    later = after_step(WISHES, back.memories, WATCH, (), at(1600), book)
    assert [order.person for order in later.orders] == ["duty-warden"]


def test_what_is_raised_in_the_very_step_that_ends_a_repair_is_told_once() -> None:
    stands = Standing(phase=Phase.UNACKNOWLEDGED, occurrence=1, raised=at(1000), priority=Priority.HIGH, due=1300.0)
    repaired = Memories(repair=Repair(1000.0, "workshop-lead", "new nozzle"))
    back = after_step(WISHES, repaired, WATCH, (told(),), at(1000), Book({"hot-idle": stands}))
    assert len(back.orders) == 1


def test_a_ladder_rests_in_a_repair_and_begins_anew_after_it() -> None:
    """Whoever repairs it knows; nobody else is called to a machine that is apart."""
    begun = after_step(WISHES, Memories(), WATCH, (told(),), at(700))
    away = replace(begun.memories, repair=Repair(5000.0, "workshop-lead", "new nozzle"))
    rests = after_step(WISHES, away, WATCH, (), at(1400))
    assert rests.orders == ()
    ended = replace(rests.memories, repair=Repair(2000.0, "workshop-lead", "new nozzle", "duty-warden"))
    back = after_step(WISHES, ended, WATCH, (), at(2000))
    assert [one.facts for one in back.effects if isinstance(one, Noted)] == [{"by": "duty-warden"}]
    assert back.orders == ()
    assert after_step(WISHES, back.memories, WATCH, (), at(2500)).orders == ()
    later = after_step(WISHES, back.memories, WATCH, (), at(2600))
    assert [order.person for order in later.orders] == ["duty-warden"]


def test_in_a_repair_only_who_had_heard_of_an_alarm_hears_that_it_is_over() -> None:
    repair = Repair(5000.0, "workshop-lead", "new nozzle")
    over = told()._replace(kind=TellKind.ALL_CLEAR, next_at=None)
    assert after_step(WISHES, Memories(repair=repair), WATCH, (over,), at(900)).orders == ()
    begun = after_step(WISHES, Memories(), WATCH, (told(),), at(700))
    heard = after_step(WISHES, replace(begun.memories, repair=repair), WATCH, (over,), at(900))
    assert [(order.person, order.tell.kind) for order in heard.orders] == [("workshop-lead", TellKind.ALL_CLEAR)]


def test_what_another_version_stored_makes_a_fresh_beginning() -> None:
    assert thaw({"routing": 3}) == Memories()
    assert thaw(None) == Memories()


def test_a_forgotten_nozzle_is_cooled_where_that_is_wanted() -> None:
    world = forgotten(1500)
    stands = Standing(phase=Phase.UNACKNOWLEDGED, occurrence=1, raised=at(800))
    world = world._replace(book=Book({"hot-idle": stands}))
    seen = look(WATCH, world, at(1500))
    wanting = replace(WISHES, cools=cooling.Limits(enabled=True))
    due = each_second(wanting, Memories(), WATCH, world, seen, (), None, at(1500))
    assert due.commands == ()
    decided = each_second(wanting, due.memories, WATCH, world, seen, (), None, at(1500))
    assert decided.commands == ("M104 S0",)
    assert each_second(WISHES, Memories(), WATCH, world, seen, (), None, at(1500)).commands == ()
    unheard = replace(wanting, unspoken=frozenset({"hot-idle"}))
    assert each_second(unheard, Memories(), WATCH, world, seen, (), None, at(1500)).commands == ()
    repaired = Memories(repair=Repair(5000.0, "workshop-lead", "new nozzle"))
    assert each_second(wanting, repaired, WATCH, world, seen, (), None, at(1500)).commands == ()


def test_what_the_port_did_not_take_is_not_told_as_done() -> None:
    """Nobody must read that the watch has cut the heat when nothing went out."""
    world = forgotten(1500)
    stands = Standing(phase=Phase.UNACKNOWLEDGED, occurrence=1, raised=at(800))
    world = world._replace(book=Book({"hot-idle": stands}))
    wanting = replace(WISHES, cools=cooling.Limits(enabled=True))
    seen = look(WATCH, world, at(1500))
    due = each_second(wanting, Memories(), WATCH, world, seen, (), None, at(1500))
    decided = each_second(wanting, due.memories, WATCH, world, seen, (), None, at(1500))
    assert [one.kind for one in decided.effects if isinstance(one, Noted)] == [cooling.NOTED]
    undone = uncooled(decided)
    assert (undone.memories, undone.effects, undone.commands) == (due.memories, (), ())


def test_an_acknowledgement_lets_the_protective_action_be_taken_again() -> None:
    spent = Memories(cooled=cooling.Memory(spent=True))
    taken = AlarmChanged(at(1), "hot-idle", 1, Transition.ACKNOWLEDGED, Priority.HIGH, {}, "workshop-lead", "link")
    assert not after_step(WISHES, spent, WATCH, (taken,), at(1)).memories.cooled.spent
    assert after_step(WISHES, spent, WATCH, (), at(1)).memories.cooled.spent


def test_a_finished_job_is_told_to_whoever_is_first_in_line() -> None:
    ended = JobChanged(at(10), "completed", 1, None, 1000, "card", 900.0)
    world = forgotten(10)
    decided = each_second(WISHES, Memories(), WATCH, world, look(WATCH, world, at(10)), (ended,), None, at(10))
    assert [(order.person, order.tell.alarm) for order in decided.orders] == [("workshop-lead", JOB_FINISHED)]
    unasked = replace(WISHES, notices=frozenset())
    assert (
        each_second(unasked, Memories(), WATCH, world, look(WATCH, world, at(10)), (ended,), None, at(10)).orders == ()
    )


def test_a_blind_time_is_told_once_the_machine_has_spoken_or_a_minute_later() -> None:
    world = forgotten(100)
    before = look(WATCH, world, at(100))
    waiting = Blind(before, at(102), 600.0)
    seen = look(WATCH, world, at(103))
    unheard = each_second(WISHES, Memories(), WATCH, world, seen, (), waiting, at(103))
    assert (unheard.orders, unheard.blind_told) == ((), False)
    heard = each_second(WISHES, Memories(), WATCH, world, replace(seen, heard=102.5), (), waiting, at(103))
    assert [order.tell.alarm for order in heard.orders] == [WAS_BLIND]
    assert heard.blind_told
    silent = each_second(WISHES, Memories(), WATCH, world, seen, (), waiting, at(162))
    assert [order.tell.alarm for order in silent.orders] == [WAS_BLIND]
