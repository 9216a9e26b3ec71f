"""What is owed, what was heard, and what a blind time leaves of the state."""

from collections.abc import Callable
from typing import Any

import pytest

from watchdog.core.effects import Noted
from watchdog.core.events import Expectation
from watchdog.core.machine import expected
from watchdog.core.observations import (
    Acknowledged,
    Busy,
    CardIdle,
    CardProgress,
    HostResumed,
    JobDone,
    LinkDown,
    LinkUp,
    Started,
    Unread,
    WatchStarted,
)
from watchdog.core.snapshot import Execution, Hotend, Link

Bench = Any  # conftest.Bench: test folders are no packages, so its type cannot be imported


def test_the_first_line_heard_shows_the_link(new_bench: Callable[..., Bench]) -> None:
    machine = new_bench(linked=False)
    assert machine.seen.link == Link.UNAVAILABLE
    machine.said(Unread("???"))
    assert machine.seen.link == Link.AVAILABLE
    assert machine.states("link") == ["available"]
    assert machine.judge is True


def test_a_lost_link_makes_everything_unknown(bench: Bench) -> None:
    bench.building()
    bench.remark(LinkDown("device gone"))
    seen = bench.seen
    assert (seen.link, seen.execution, seen.hotend) == (Link.UNAVAILABLE, Execution.UNAVAILABLE, Hotend.UNKNOWN)
    assert seen.active is None
    assert seen.heating_up is None
    assert seen.nozzle.now is None
    assert seen.heat_when_lost is True
    assert seen.job.ended is None
    bench.wait(3600)
    assert bench.seen.heat_when_lost is True
    assert bench.seen.link_since == seen.link_since


def test_a_cold_and_idle_machine_is_lost_without_heat(bench: Bench) -> None:
    bench.heat(24.0, 0.0)
    bench.remark(LinkDown())
    assert bench.seen.heat_when_lost is False


def test_the_same_job_goes_on_when_the_link_is_back(bench: Bench) -> None:
    bench.building()
    bench.remark(LinkDown())
    bench.wait(60)
    bench.remark(LinkUp())
    assert bench.seen.active is None
    assert bench.seen.sighted_since == bench.now
    bench.place(38_000)
    assert bench.seen.execution == Execution.BUILDING
    assert bench.jobs() == []


@pytest.mark.parametrize(
    ("told", "then"),
    [
        (CardIdle(), Execution.READY),
        (CardProgress(300, 100_000), Execution.UNAVAILABLE),  # one look: it may run or not
        (CardProgress(50_000, 77_000), Execution.UNAVAILABLE),
        (CardProgress(0, 77_000), Execution.READY),
    ],
)
def test_a_job_that_ended_unseen_is_lost_and_not_finished(bench: Bench, told: Any, then: Execution) -> None:
    bench.building()
    bench.blind(7200)
    bench.said(told)
    bench.said(told)  # a single report may be a damaged line
    assert bench.jobs() == [("abandoned", 1, "lost")]
    assert bench.seen.job.ending == "lost"
    assert bench.seen.execution is then


def test_a_job_that_ended_unseen_but_says_so_is_complete(bench: Bench) -> None:
    bench.building()
    bench.blind(20)
    bench.said(JobDone())
    assert bench.jobs() == [("completed", 1, None)]


def test_a_job_stays_in_doubt_until_the_card_tells(bench: Bench) -> None:
    bench.building()
    bench.blind(7200)
    for _ in range(100):
        bench.heat(205.0, 205.0)
    assert bench.seen.active is None
    assert bench.seen.hotend == Hotend.HOT
    bench.place(30_000)
    assert bench.seen.active is True


def test_a_job_in_doubt_over_cold_heaters_is_lost(bench: Bench) -> None:
    bench.building()
    bench.blind(7200)
    for _ in range(70):
        bench.heat(24.0, 0.0)
    assert bench.jobs() == [("abandoned", 1, "lost")]


def test_a_blind_time_forgets_readings_and_remembers_the_heat(bench: Bench) -> None:
    bench.heat(205.0, 205.0)
    bench.said(CardIdle())
    bench.blind(600)
    seen = bench.seen
    assert (seen.execution, seen.hotend, seen.nozzle.target) == (Execution.UNAVAILABLE, Hotend.UNKNOWN, None)
    assert seen.heat_when_lost is True
    assert seen.sighted_since == bench.now
    bench.heat(24.0, 0.0)
    assert bench.seen.heat_when_lost is False


def test_a_stream_that_goes_on_after_a_blind_time_is_the_same_job(bench: Bench, code: Any) -> None:
    bench.taken(code("M104", 1, S=205.0), code("G28", 2), code("M83", 3), code("G1", 4, X=1.0, E=1.0))
    bench.effects.clear()
    bench.blind(30)
    assert bench.seen.active is None
    bench.taken(code("G1", 90, X=2.0, E=1.0))
    assert bench.seen.active is True
    assert bench.jobs() == []


def test_a_stream_that_begins_afresh_after_a_blind_time_is_another_job(bench: Bench, code: Any) -> None:
    bench.taken(code("M104", 1, S=205.0), code("G28", 2), code("M83", 3), code("G1", 4, X=1.0, E=1.0))
    bench.effects.clear()
    bench.blind(3000)
    bench.taken(code("M110", 0, N=0.0), code("M104", 1, S=205.0), code("G1", 2, X=1.0, E=1.0))
    assert bench.jobs() == [("abandoned", 1, "lost"), ("started", 2, None)]


@pytest.mark.parametrize("remark", [WatchStarted(), HostResumed(400.0)])
def test_a_recorded_blind_time_counts_like_a_lived_one(bench: Bench, remark: Any) -> None:
    """The replay of a recording has to say what the live watch said."""
    bench.building()
    bench.now += 400
    bench.remark(remark)
    assert bench.seen.active is None
    assert bench.seen.sighted_since == bench.now
    assert [told.kind for told in bench.effects if isinstance(told, Noted)] == ["blind"]


def test_a_recording_that_begins_was_not_blind(new_bench: Callable[..., Bench]) -> None:
    machine = new_bench(linked=False)
    machine.remark(WatchStarted())
    assert machine.effects == []


def test_a_machine_that_says_nothing_for_long_is_not_known(bench: Bench) -> None:
    bench.heat(24.0, 0.0)
    bench.wait(59)
    assert bench.seen.execution == Execution.READY
    bench.wait(2)
    assert bench.seen.execution == Execution.UNAVAILABLE
    assert bench.seen.active is None
    bench.said(Acknowledged())
    assert bench.seen.execution == Execution.READY


def test_queries_without_an_answer_are_counted_until_anything_is_heard(bench: Bench, code: Any) -> None:
    bench.heat(24.0, 0.0)
    first = bench.now
    for _ in range(4):
        bench.sent(code("M105"))
        bench.wait(6)
    assert bench.seen.unanswered == 4
    assert bench.seen.owed_since == first
    bench.said(Unread("x"))
    assert bench.seen.unanswered == 0


def test_commands_of_a_stream_are_no_unanswered_queries(bench: Bench, code: Any) -> None:
    bench.heat(24.0, 0.0)
    bench.sent(code("G28"), code("G1", X=1.0))
    bench.wait(30)
    assert bench.seen.unanswered == 0
    assert bench.seen.blocking_since is not None


def test_an_acknowledgement_pays_the_oldest_line(bench: Bench, code: Any) -> None:
    bench.sent(code("G1", X=1.0))
    bench.wait(2)
    second = bench.now
    bench.sent(code("G1", X=2.0))
    bench.said(Acknowledged())
    assert bench.seen.owed_since == second
    bench.said(Acknowledged())
    assert bench.seen.owed_since is None


def test_a_numbered_acknowledgement_pays_every_line_up_to_its_own(bench: Bench, code: Any) -> None:
    bench.sent(code("G1", 7, X=1.0), code("G1", 8, X=2.0), code("G1", 9, X=3.0))
    bench.said(Acknowledged(9))
    assert bench.seen.owed_since is None


def test_a_keep_alive_puts_the_reproach_off_and_pays_nothing(bench: Bench, code: Any) -> None:
    bench.sent(code("G29"))
    sent = bench.now
    for _ in range(20):
        bench.said(Busy("processing"))
    assert bench.seen.owed_since == bench.now
    assert bench.seen.blocking_since == sent
    bench.said(Acknowledged())
    assert bench.seen.owed_since is None
    assert bench.seen.blocking_since is None


def test_the_usual_silence_is_learned_and_one_odd_gap_teaches_nothing(bench: Bench) -> None:
    assert bench.seen.rhythm is None
    for minute in range(5):
        if minute == 2:
            bench.wait(40)
        for _ in range(30):
            bench.wait(1)
            bench.said(Acknowledged())
    assert bench.seen.rhythm == 2.0


def test_silence_over_an_unanswered_query_is_no_habit(bench: Bench, code: Any) -> None:
    for _ in range(6):
        bench.sent(code("M105"))
        bench.wait(40)
        for _ in range(25):
            bench.said(Acknowledged())
    assert bench.seen.rhythm == 1.0


def test_an_expectation_belongs_to_the_job_that_runs(bench: Bench) -> None:
    before = bench.memory
    assert expected(before, Expectation(bench.at, 3600.0, "operator")) is before
    bench.building()
    bench.memory = expected(bench.memory, Expectation(bench.at, 3600.0, "operator"))
    assert (bench.seen.job.expected, bench.seen.job.expected_by) == (3600.0, "operator")
    bench.said(Started())
    ended = bench.memory
    assert expected(ended, Expectation(bench.at, 60.0, "operator")) is ended
