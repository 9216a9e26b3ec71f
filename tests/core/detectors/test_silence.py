"""Silent, silent and hot, link lost: who is quiet, over what, and for how long."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from watchdog.core.detectors import link_lost, silent, silent_hot
from watchdog.core.observations import Fault, FaultKind
from watchdog.core.patience import ENOUGH, silence
from watchdog.core.snapshot import Execution, Job, Link, Snapshot, Source, Usual

Seen = Callable[..., Snapshot]
Watched = Callable[..., Any]


def quiet(seen: Seen, at: float, **changes: Any) -> Snapshot:
    """Last heard at 1000 s; a query was sent at 1002 s and since then every 5 s."""
    unanswered = max(0, int((at - 1002) // 5))
    return seen(at=at, **{"heard": 1000.0, "owed_since": 1002.0, "unanswered": unanswered, **changes})


def told_at(watch: Any, *snapshots: Snapshot) -> float | None:
    return next((snapshot.at for snapshot in snapshots if watch.see(snapshot).present), None)


def test_a_hot_machine_that_does_not_answer_is_told_after_twenty_seconds(seen: Seen, watched: Watched) -> None:
    watch = watched(silent_hot)
    assert told_at(watch, *(quiet(seen, 1000.0 + at) for at in range(60))) == 1022
    assert watch.see(quiet(seen, 1060.0)).evidence["unheard_for_s"] == 60


def test_a_controller_that_has_said_that_it_halts_may_fall_silent(seen: Seen, watched: Watched) -> None:
    """It was told as halted, urgently; a second urgent alarm about the same thing teaches people to look away."""
    halt = ((999.0, Fault(FaultKind.HALT, "Printer halted. kill() called!", halted=True)),)
    frames = [quiet(seen, 1000.0 + at, faults=halt) for at in range(300)]
    assert told_at(watched(silent_hot), *frames) is None
    fan = ((999.0, Fault(FaultKind.FAN, "HOTEND FAN ERROR")),)
    frames = [quiet(seen, 1000.0 + at, faults=fan) for at in range(60)]
    assert told_at(watched(silent_hot), *frames) == 1022


def test_four_unanswered_queries_tell_it_as_well(seen: Seen, watched: Watched) -> None:
    frames = [quiet(seen, 1000.0 + at, owed_since=None) for at in range(60)]
    assert told_at(watched(silent_hot), *frames) == 1022
    few = [quiet(seen, 1000.0 + at, owed_since=None, unanswered=3) for at in range(60)]
    assert told_at(watched(silent_hot), *few) is None


@pytest.mark.parametrize(
    "changes",
    [
        {"heat_when_lost": False},
        {"owed_since": None, "unanswered": 0},
        {"blocking_since": 1001.0},
        {"sighted_since": 1050.0},
        {"link_since": 1050.0},
    ],
    ids=["cold", "nothing asked", "homes", "watch just began", "port just opened"],
)
def test_quiet_that_is_no_alarm(seen: Seen, watched: Watched, changes: dict[str, Any]) -> None:
    assert told_at(watched(silent_hot), *(quiet(seen, 1000.0 + at, **changes) for at in range(60))) is None


def test_a_blocking_command_excuses_for_three_minutes(seen: Seen, watched: Watched) -> None:
    frames = [quiet(seen, 1000.0 + at, blocking_since=1001.0) for at in range(300)]
    assert told_at(watched(silent_hot), *frames) == 1180


@pytest.mark.parametrize(("started", "told"), [(996.0, 1180), (980.0, 1022)], ids=["at its start", "later"])
def test_a_card_job_s_own_first_orders_may_block_without_a_word(
    seen: Seen, watched: Watched, job: Job, started: float, told: int
) -> None:
    """Some controllers tell nobody of what a card job orders: heating up is silence then, and no freeze."""
    begun = replace(job, started=started, building_since=None, progress=0)
    frames = [quiet(seen, 1000.0 + at, job=begun, execution=Execution.PREPARING) for at in range(300)]
    assert told_at(watched(silent_hot), *frames) == told


def test_the_first_word_brings_silence_back(seen: Seen, watched: Watched) -> None:
    watch = watched(silent_hot)
    assert told_at(watch, *(quiet(seen, 1000.0 + at) for at in range(60))) is not None
    assert watch.see(seen(at=1061.0)).present is False


def test_a_told_silence_outlives_a_restart_of_the_watch_and_the_loss_of_the_port(seen: Seen, watched: Watched) -> None:
    """Neither is a sign of life, so neither may send an all-clear."""
    watch = watched(silent_hot)
    assert told_at(watch, *(quiet(seen, 1000.0 + at) for at in range(60))) is not None
    assert watch.see(quiet(seen, 1061.0, sighted_since=1060.0)).present is True
    assert watch.see(quiet(seen, 1062.0, link=Link.UNAVAILABLE)).present is None
    assert watch.see(quiet(seen, 1063.0, link_since=1062.0)).present is True


def test_never_heard_nobody_can_tell_whether_it_is_hot(seen: Seen, watched: Watched) -> None:
    assert watched(silent_hot).see(quiet(seen, 1060.0, heard=None, heat_when_lost=False)).present is None


def test_a_log_is_silent_when_its_rhythm_breaks_or_a_line_is_owed(seen: Seen, watched: Watched) -> None:
    log = {"source": Source.LISTENING, "owed_since": None, "unanswered": 0}
    assert told_at(watched(silent_hot), *(quiet(seen, 1000.0 + at, rhythm=2.0, **log) for at in range(60))) == 1020
    assert told_at(watched(silent_hot), *(quiet(seen, 1000.0 + at, rhythm=15.0, **log) for at in range(60))) == 1045
    unknown = watched(silent_hot).answers(*(quiet(seen, 1000.0 + at, rhythm=None, **log) for at in (10, 30)))
    assert unknown == [False, None]
    owed = {**log, "owed_since": 1001.0, "rhythm": 500.0}
    assert told_at(watched(silent_hot), *(quiet(seen, 1000.0 + at, **owed) for at in range(60))) == 1021


def test_a_cold_machine_that_does_not_answer_is_told_after_a_minute(seen: Seen, watched: Watched) -> None:
    watch = watched(silent)
    frames = [quiet(seen, 1000.0 + at, heat_when_lost=False) for at in range(120)]
    assert told_at(watch, *frames) == 1060
    assert watch.see(seen(at=1121.0, heat_when_lost=False)).present is False


def test_a_cold_machine_may_be_quiet_while_it_homes_or_is_not_asked(seen: Seen, watched: Watched) -> None:
    cold = {"heat_when_lost": False}
    heats = [quiet(seen, 1000.0 + at, blocking_since=1001.0, **cold) for at in range(1000)]
    assert told_at(watched(silent), *heats) == 1900  # a job's own heat waits reach no port on some controllers
    few = [quiet(seen, 1000.0 + at, owed_since=None, unanswered=3, **cold) for at in range(300)]
    assert told_at(watched(silent), *few) is None
    four = [quiet(seen, 1000.0 + at, owed_since=None, unanswered=4, **cold) for at in range(300)]
    assert told_at(watched(silent), *four) == 1060


def test_a_port_that_was_never_there_is_told_after_a_minute(seen: Seen, watched: Watched) -> None:
    nothing = {"heard": None, "link": Link.UNAVAILABLE, "heat_when_lost": False, "owed_since": None, "unanswered": 0}
    assert told_at(watched(silent), *(seen(at=float(at), **nothing) for at in range(120))) == 60


def test_a_missing_port_counts_from_when_the_watch_itself_began_to_see(seen: Seen, watched: Watched) -> None:
    away = {"link": Link.UNAVAILABLE, "heat_when_lost": False, "heard": 900.0}
    for link_since, sighted_since in ((1000.0, 5000.0), (5000.0, 1000.0)):
        moments = {"link_since": link_since, "sighted_since": sighted_since}
        frames = [seen(at=5000.0 + at, **away, **moments) for at in range(120)]
        assert told_at(watched(silent), *frames) == 5060


def test_over_a_hot_machine_silent_leaves_the_word_to_the_others(seen: Seen, watched: Watched) -> None:
    assert told_at(watched(silent), *(quiet(seen, 1000.0 + at) for at in range(120))) is None


def test_a_told_blindness_outlives_a_restart_of_the_watch(seen: Seen, watched: Watched) -> None:
    watch = watched(silent)
    assert told_at(watch, *(quiet(seen, 1000.0 + at, heat_when_lost=False) for at in range(120))) is not None
    assert watch.see(quiet(seen, 1121.0, heat_when_lost=False, sighted_since=1120.0)).present is True


def test_a_log_of_unknown_rhythm_cannot_be_called_silent(seen: Seen, watched: Watched) -> None:
    log = {"source": Source.LISTENING, "owed_since": None, "unanswered": 0, "rhythm": None, "heat_when_lost": False}
    assert watched(silent).see(quiet(seen, 1100.0, **log)).present is None


def gone(seen: Seen, at: float, **changes: Any) -> Snapshot:
    """The port went at 1000 s."""
    return seen(at=at, **{"link": Link.UNAVAILABLE, "link_since": 1000.0, "heard": 999.0, **changes})


def test_a_lost_link_over_a_hot_machine_is_told_after_half_a_minute(seen: Seen, watched: Watched) -> None:
    watch = watched(link_lost)
    assert told_at(watch, *(gone(seen, 1000.0 + at) for at in range(60))) == 1030
    assert watch.see(seen(at=1061.0)).present is False


def test_a_lost_link_over_a_cold_machine_is_no_alarm_of_this_kind(seen: Seen, watched: Watched) -> None:
    assert told_at(watched(link_lost), *(gone(seen, 1000.0 + at, heat_when_lost=False) for at in range(60))) is None


def test_a_link_that_was_never_heard_over_cannot_be_judged(seen: Seen, watched: Watched) -> None:
    assert watched(link_lost).see(gone(seen, 1060.0, heard=None, heat_when_lost=False)).present is None


def test_a_restarted_watch_first_opens_the_port(seen: Seen, watched: Watched) -> None:
    watch = watched(link_lost)
    assert watch.see(gone(seen, 5000.0, sighted_since=4990.0)).present is False
    assert watch.see(gone(seen, 5020.0, sighted_since=4990.0)).present is True
    assert watch.see(gone(seen, 6000.0, sighted_since=5999.0)).present is True  # told before, not back since


def answering(longest: float, jobs: int = ENOUGH) -> dict[str, Usual]:
    """A machine that has shown in `jobs` healthy jobs how long it may say nothing."""
    return {"unanswered": Usual(longest / 2, 0.1, jobs, longest)}


@pytest.mark.parametrize(("longest", "told"), [(0.3, 1012), (10.0, 1017), (16.0, 1026), (90.0, 1040)])
def test_a_machines_own_longest_silence_sets_how_long_it_may_be_silent(
    seen: Seen, watched: Watched, longest: float, told: float
) -> None:
    """Half of the default for one that always answers; never more than twice, however it has behaved."""
    frames = [quiet(seen, 1000.0 + at, usual=answering(longest), unanswered=9) for at in range(120)]
    assert told_at(watched(silent_hot), *frames) == pytest.approx(told, abs=2)


@pytest.mark.parametrize("usual", [{}, answering(0.3, ENOUGH - 1), {"unanswered": Usual(0.1, 0.1, 50)}])
def test_without_enough_jobs_the_default_stands(seen: Seen, watched: Watched, usual: dict[str, Usual]) -> None:
    frames = [quiet(seen, 1000.0 + at, usual=usual) for at in range(60)]
    assert told_at(watched(silent_hot), *frames) == 1022


def test_a_cold_machine_is_waited_for_by_its_own_habit_too(seen: Seen, watched: Watched) -> None:
    frames = [quiet(seen, 1000.0 + at, heat_when_lost=False, usual=answering(0.3)) for at in range(120)]
    assert told_at(watched(silent), *frames) == pytest.approx(1032, abs=2)


def test_a_setting_below_the_floor_stays_as_it_is() -> None:
    assert silence(answering(0.3), 8.0, 10.0) == 8.0


def test_a_wait_that_tells_its_length_excuses_a_machine_that_says_nothing_meanwhile(
    seen: Seen, watched: Watched
) -> None:
    frames = [quiet(seen, 1000.0 + at, dwells=(998.0, 1418.0), blocking_since=998.0) for at in range(600)]
    assert told_at(watched(silent_hot), *frames) == 1438


def test_a_machine_that_speaks_in_a_wait_and_then_falls_silent_is_told_of(seen: Seen, watched: Watched) -> None:
    """A controller that froze in the middle of a dwell keeps its heaters as they were."""
    frames = [quiet(seen, 1000.0 + at, dwells=(900.0, 1320.0)) for at in range(60)]
    assert told_at(watched(silent_hot), *frames) == 1022
