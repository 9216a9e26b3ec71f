"""Jobs that another program streams, told by hand-written lines."""

from collections.abc import Callable
from typing import Any

import pytest

from watchdog.core.observations import Acknowledged, Action, Busy, CardProgress, Idle, JobProgress, Resend
from watchdog.core.snapshot import Execution, Origin, Source

Bench = Any  # conftest.Bench: test folders are no packages, so its type cannot be imported


@pytest.fixture
def log(new_bench: Callable[..., Bench]) -> Bench:
    """A machine that is followed by listening to another program's traffic."""
    return new_bench(Source.LISTENING)


@pytest.fixture
def opening(code: Any) -> list[Any]:
    """A job file's first lines."""
    return [
        code("M140", 1, S=60.0),
        code("M104", 2, S=205.0),
        code("G28", 3),
        code("G92", 4, E=0.0),
    ]


@pytest.fixture
def building(log: Bench, opening: list[Any], code: Any) -> Bench:
    """A streamed job with its first extruding line acknowledged."""
    log.taken(*opening, code("G1", 5, X=10.0, Y=10.0, F=6000.0), code("G1", 6, X=60.0, E=2.0))
    log.effects.clear()
    return log


def test_a_streamed_job_is_followed_from_its_first_line_to_its_end(log: Bench, opening: list[Any], code: Any) -> None:
    first = log.now
    log.taken(*opening)
    assert log.seen.execution == Execution.PREPARING
    assert log.seen.job.origin == Origin.STREAMED
    assert log.seen.job.started == first
    log.taken(code("G1", 5, X=10.0, Y=10.0, F=6000.0))
    assert log.seen.execution == Execution.PREPARING
    log.sent(code("G1", 6, X=60.0, E=2.0))
    assert log.seen.execution == Execution.PREPARING  # sent is not yet done
    log.said(Acknowledged())
    assert log.seen.execution == Execution.BUILDING
    assert log.seen.job.progress == 6
    assert log.seen.job.moved_at == log.now
    log.taken(code("M104", 7, S=0.0), code("M140", 8, S=0.0), code("M84", 9))
    assert log.seen.active is True
    log.wait(12)
    assert log.seen.execution == Execution.COMPLETE
    assert log.jobs() == [("started", 1, None), ("completed", 1, None)]


def test_lines_without_numbers_make_a_job_too(log: Bench, code: Any) -> None:
    log.taken(code("M104", S=205.0), code("M109", S=205.0), code("G28"), code("G1", X=5.0, E=1.0))
    assert log.jobs() == [("started", 1, None)]


def test_a_stream_that_already_runs_when_the_watch_starts_is_recognised(log: Bench, code: Any) -> None:
    log.heat(205.0, 205.0)
    log.taken(code("G1", 4711, X=5.0, E=80.0), code("G1", 4712, X=9.0, E=80.2))
    assert log.seen.execution == Execution.BUILDING


def test_a_preheat_alone_is_no_job(log: Bench, code: Any) -> None:
    """A heated machine that nobody uses must count as idle, or hot-idle would never be told."""
    log.taken(code("M104", S=205.0), code("M140", S=60.0))
    for _ in range(80):
        log.heat(205.0, 205.0)
    assert log.seen.job is None
    assert log.seen.execution == Execution.READY


def test_loading_filament_by_hand_is_flow_and_no_job(log: Bench, code: Any) -> None:
    log.taken(code("M104", S=205.0), code("M83"), code("G1", E=40.0, F=200.0), code("G1", E=10.0, F=200.0))
    assert log.seen.job is None
    assert log.seen.flowed == pytest.approx(50.0)
    assert log.seen.flow_at is not None


def test_homing_without_heat_is_no_job(log: Bench, code: Any) -> None:
    log.heat(24.0, 0.0)
    log.taken(code("G28"), *[code("G1", X=float(x)) for x in range(20)])
    assert log.seen.job is None


def test_moves_by_hand_with_pauses_between_them_are_no_job(log: Bench, code: Any) -> None:
    log.heat(205.0, 205.0)
    for _ in range(5):
        log.taken(code("G91"), code("G1", Z=1.0), code("G90"))
        log.wait(15)
        log.heat(205.0, 205.0)
    assert log.seen.job is None


def test_a_stream_that_feeds_nothing_and_stops_was_no_job(log: Bench, opening: list[Any]) -> None:
    """A preheat and a homing by hand must not hide an idle hot nozzle for more than moments."""
    log.taken(*opening)
    for _ in range(32):
        log.heat(205.0, 205.0)
    assert log.jobs() == [("started", 1, None), ("abandoned", 1, "nothing built")]
    assert log.seen.active is False


def test_waiting_for_heat_is_no_pause_of_the_stream(log: Bench, opening: list[Any], code: Any) -> None:
    log.taken(*opening)
    log.sent(code("M190", 5, S=60.0))
    for _ in range(120):
        log.heat(150.0, 205.0, bed=30.0, bed_target=60.0)
    assert log.seen.execution == Execution.PREPARING
    assert log.seen.heating_up is True
    assert log.seen.blocking_since is not None
    log.said(Acknowledged())
    assert log.seen.blocking_since is None
    assert log.jobs() == [("started", 1, None)]


def test_a_line_that_is_sent_again_counts_once(building: Bench, code: Any) -> None:
    done, flowed = building.seen.job.progress, building.seen.flowed
    building.sent(code("G1", 7, X=70.0, E=3.0), code("G1", 8, X=80.0, E=4.0))
    building.said(Resend(7))
    building.taken(code("G1", 7, X=70.0, E=3.0), code("G1", 8, X=80.0, E=4.0))
    building.taken(code("G1", 8, X=80.0, E=4.0))  # once more, unasked
    assert building.seen.job.progress == done + 2
    assert building.seen.flowed == pytest.approx(flowed + 2.0)
    assert building.seen.resends == 1
    assert building.jobs() == []


def test_a_new_numbering_is_no_new_job(building: Bench, code: Any) -> None:
    done = building.seen.job.progress
    building.taken(code("M110", 0, N=0.0), code("G1", 1, X=70.0, E=3.0))
    assert building.jobs() == []
    assert building.seen.job.progress == done + 1
    assert building.seen.lines_sent == 8


def test_queries_are_no_lines_of_a_job(building: Bench, code: Any) -> None:
    before = building.seen.job
    building.taken(code("M105"), code("M27"), code("M155", S=2.0), code("M114"))
    assert building.seen.job.progress == before.progress
    assert building.seen.job.moved_at == before.moved_at


def test_a_stream_that_stops_for_long_stays_active(building: Bench) -> None:
    """Whether that is a stall is another's business: the state must not turn it into an end."""
    for _ in range(400):
        building.heat(205.0, 205.0)
    assert building.seen.execution == Execution.BUILDING
    assert building.jobs() == []


def test_motors_off_without_heaters_off_is_no_end(building: Bench, code: Any) -> None:
    building.taken(code("M84", 7))
    for _ in range(30):
        building.heat(205.0, 205.0)
    assert building.seen.active is True


def test_heaters_off_in_the_middle_with_lines_after_it_is_no_end(building: Bench, code: Any) -> None:
    building.taken(code("M104", 7, S=0.0), code("M140", 8, S=0.0))
    for number in range(9, 30):
        building.taken(code("G1", number, X=float(number)))
        building.wait(2)
    assert building.seen.active is True


def test_a_word_to_the_host_holds_and_resumes_the_stream(building: Bench, code: Any) -> None:
    building.said(Action("pause", ""))
    assert building.seen.execution == Execution.PAUSED
    building.wait(30)
    building.said(Action("resume", ""))
    assert building.seen.execution == Execution.BUILDING
    assert building.seen.job.held == pytest.approx(31.0)
    assert building.jobs() == [("held", 1, "by command"), ("resumed", 1, None)]


@pytest.mark.parametrize(
    "word", [Action("paused", ""), Action("paused", "filament_runout 0"), Action("prompt_begin", "?")]
)
def test_a_stream_that_lays_plastic_again_needs_no_word_for_it(building: Bench, code: Any, word: Any) -> None:
    """The word that it goes on may be lost in noise; somebody would be called to a machine that works."""
    building.said(word)
    building.taken(code("G1", 7, X=70.0, E=2.5))
    assert building.seen.execution in (Execution.PAUSED, Execution.WAITING)  # it was on its way
    building.wait(60)
    building.taken(code("G1", 8, E=40.0))
    assert building.seen.execution in (Execution.PAUSED, Execution.WAITING)  # new filament is loaded
    building.taken(code("G1", 9, X=80.0, E=41.0))
    assert building.seen.execution == Execution.BUILDING


def test_a_cancelled_stream_is_abandoned(building: Bench) -> None:
    building.said(Action("cancel", ""))
    assert building.jobs() == [("abandoned", 1, "stopped")]


@pytest.mark.parametrize("name", ["M0", "M1", "M600"])
def test_a_planned_stop_in_the_stream_waits_for_a_person(building: Bench, code: Any, name: str) -> None:
    building.sent(code(name, 7))
    assert building.seen.execution == Execution.WAITING
    building.said(Busy("person"))
    assert building.seen.execution == Execution.WAITING
    assert building.seen.wait_planned is True
    building.said(Acknowledged())
    assert building.seen.execution == Execution.BUILDING
    assert building.jobs() == [("held", 1, "waits for somebody"), ("resumed", 1, None)]


def test_streamed_progress_marks_are_the_jobs_own(building: Bench, code: Any) -> None:
    building.taken(code("M73", 7, P=12.0, R=30.0))
    assert (building.seen.job.percent, building.seen.job.left) == (12.0, 1800.0)
    building.said(JobProgress(13.0, None))
    assert building.seen.job.percent == 13.0


def test_an_empty_receiver_settles_what_lost_its_acknowledgement(building: Bench, code: Any) -> None:
    done = building.seen.job.progress
    building.sent(code("G1", 7, X=70.0, E=3.0))
    building.wait(2)
    assert building.seen.owed_since is not None
    building.said(Idle())
    assert building.seen.owed_since is None
    assert building.seen.job.progress == done + 1


def test_a_log_without_acknowledgements_still_shows_a_job(log: Bench, opening: list[Any], code: Any) -> None:
    log.heat(205.0, 205.0)
    log.sent(*opening, *[code("G1", n, X=float(n), E=n / 10) for n in range(5, 200)])
    assert log.seen.execution == Execution.BUILDING
    assert log.seen.job.progress > 100
    assert log.seen.flowed > 10


def test_a_card_job_takes_over_from_a_stream(building: Bench, code: Any) -> None:
    building.said(CardProgress(500, 9_000))
    building.said(CardProgress(800, 9_000))
    assert building.jobs() == [("abandoned", 1, "left for another"), ("started", 2, None)]
    assert building.seen.job.origin == Origin.CARD


def test_the_hosts_own_lines_beside_a_card_job_are_not_its_progress(bench: Bench, code: Any) -> None:
    bench.building()
    bench.taken(code("M106", S=255.0), code("G1", Z=1.0))
    assert bench.seen.job.progress == 30_000
    assert bench.jobs() == []


def dwells(machine: Bench) -> tuple[float, float]:
    """From when to when the machine rests."""
    told = machine.seen.dwells
    assert told is not None
    began, over = told
    return float(began), float(over)


def test_a_dwell_tells_when_it_is_over_and_the_next_one_follows_it(building: Bench, code: Any) -> None:
    """A rest of seven minutes that stands in the file is no stall."""
    assert building.seen.dwells is None
    building.taken(code("G4", 7, S=420.0))
    began, over = dwells(building)
    assert over - began == pytest.approx(420.0)
    building.wait(20)
    building.sent(code("G4", 8, P=1500.0), code("G4", 8, P=1500.0))
    assert building.seen.dwells == (pytest.approx(began + 20, abs=0.5), pytest.approx(over + 1.5))
    building.wait(500)
    building.taken(code("G4", 9, P=900.0, S=2.0), code("G4", 10, P=None), code("G4", 11, S=1e9))
    last, over = dwells(building)
    assert last == pytest.approx(began + 520, abs=1)
    assert over - last == pytest.approx(2.0)


def test_the_next_streamed_job_knows_no_dwell_of_the_last_one(building: Bench, code: Any) -> None:
    building.taken(code("G4", 7, S=420.0), code("M104", 8, S=0.0), code("M140", 9, S=0.0), code("M84", 10))
    for _ in range(60):
        building.heat(60.0, 0.0)
    assert building.seen.active is False
    assert building.seen.dwells is None
