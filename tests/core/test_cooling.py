"""The one protective action: every reason not to act, the one way to act, and what is said afterwards."""

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import TypeAdapter

from tests.snapshots import plain
from watchdog.core import cooling
from watchdog.core.alarms.standing import Acknowledgement, Phase, Shelf, Standing
from watchdog.core.cooling import BED_OFF, COOLED, NOT_COOLED, NOTHING, NOZZLE_OFF, Deed, Limits, Memory
from watchdog.core.effects import Noted, Priority, Tell
from watchdog.core.moment import Moment
from watchdog.core.snapshot import Execution, Heater, Hotend, Job, Link, Origin, Snapshot, Source

NOW = 10_000.0
ON = Limits(enabled=True)
STANDS = Standing(phase=Phase.UNACKNOWLEDGED, occurrence=1, raised=Moment(NOW - 700, NOW - 700))
DONE = Job(1, Origin.CARD, None, 1000, 100.0, 100.0, ended=NOW - 3000, ending="completed")


def at(elapsed: float = NOW) -> Moment:
    return Moment(stamp=elapsed, elapsed=elapsed)


def forgotten(**changes: Any) -> Snapshot:
    """A nozzle that has stood hot since long after a load, with nobody there."""
    known: dict[str, Any] = {
        "at": NOW,
        "stamp": NOW,
        "hotend": Hotend.HOT,
        "nozzle": Heater(now=205.0, target=205.0, at=NOW - 1, target_since=NOW - 2000),
        "bed": Heater(now=60.0, target=60.0, at=NOW - 1, target_since=NOW - 2000),
        "job": DONE,
        "heard": NOW - 1,
        "flow_at": NOW - 2000,
    }
    return plain(**known | changes)


def acted(limits: Limits, memory: Memory, seen: Snapshot, standing: Standing, when: Moment) -> tuple[Memory, Deed]:
    """Two looks: what is to be done is stored after the first, and done at the second."""
    memory, first = cooling.look(limits, memory, seen, standing, when)
    assert first.commands == ()
    return cooling.look(limits, memory, seen, standing, when)


def test_a_forgotten_nozzle_that_nobody_answers_for_is_cooled_once() -> None:
    memory, deed = acted(ON, Memory(), forgotten(), STANDS, at())
    assert deed.commands == (NOZZLE_OFF,)
    assert [effect.kind for effect in deed.effects if isinstance(effect, Noted)] == ["cooling"]
    assert memory.spent
    assert cooling.look(ON, replace(memory, sent_at=None), forgotten(), STANDS, at(NOW + 1))[1] is NOTHING


def test_the_bed_is_switched_off_only_where_that_is_wanted_and_it_is_on() -> None:
    with_bed = replace(ON, bed=True)
    assert acted(with_bed, Memory(), forgotten(), STANDS, at())[1].commands == (NOZZLE_OFF, BED_OFF)
    cold = forgotten(bed=Heater(now=24.0, target=0.0))
    assert acted(with_bed, Memory(), cold, STANDS, at())[1].commands == (NOZZLE_OFF,)


HOT = forgotten().nozzle
REASONS: list[tuple[str, dict[str, Any]]] = [
    ("it cannot be told whether a job is active", {"active": None}),
    ("a job is active", {"active": True}),
    ("a job is active", {"job": replace(DONE, ended=None, ending=None)}),
    *((f"the machine is {execution}", {"execution": execution}) for execution in Execution if execution.value not in
      {"ready", "complete", "stopped"}),
    ("the machine may be heating up for a job", {"heating_up": True}),
    ("the machine may be heating up for a job", {"heating_up": None}),
    ("a job has ended not long ago", {"job": replace(DONE, ended=NOW - 899)}),
    ("a job has been chosen", {"chosen_at": NOW - 5000}),
    ("the machine waits for a person", {"waits_for_person": True}),
    ("filament was moved not long ago", {"flow_at": NOW - 899}),
    ("the link is not available", {"link": Link.UNAVAILABLE}),
    ("the machine does not answer just now", {"heard": None}),
    ("the machine does not answer just now", {"heard": NOW - 11}),
    ("the machine does not answer just now", {"unanswered": 1}),
    ("the machine is at work on a command", {"blocking_since": NOW - 1}),
    ("the watch has not seen the machine for long enough", {"sighted_since": NOW - 899}),
    ("the controller has restarted not long ago", {"restarted_at": NOW - 899}),
    ("the nozzle is not known to be hot", {"hotend": Hotend.UNKNOWN}),
    ("the nozzle is not known to be hot", {"hotend": Hotend.COOLING}),
    ("the nozzle is not known to be hot", {"nozzle": replace(HOT, now=None)}),
    ("the nozzle's heater is off, or its target is not known", {"nozzle": replace(HOT, target=0.0)}),
    ("the nozzle's heater is off, or its target is not known", {"nozzle": replace(HOT, target=None)}),
    ("somebody has set the heat not long ago", {"nozzle": replace(HOT, target_since=NOW - 899)}),
    ("somebody has set the heat not long ago", {"nozzle": replace(HOT, target_since=None)}),
    ("the machine is only listened to", {"source": Source.LISTENING}),
]  # fmt: skip


@pytest.mark.parametrize(("reason", "changes"), REASONS, ids=lambda it: it if isinstance(it, str) else "+".join(it))
def test_nothing_is_sent_while_the_machine_gives_one_reason_not_to(reason: str, changes: dict[str, Any]) -> None:
    seen = forgotten(**changes)
    assert reason in tuple(cooling.reasons_not_to(ON, Memory(), seen, STANDS, at()))
    assert cooling.look(ON, Memory(), seen, STANDS, at())[1] is NOTHING


@pytest.mark.parametrize(
    ("reason", "standing"),
    [
        ("no hot-idle alarm stands", Standing()),
        ("no hot-idle alarm stands", replace(STANDS, phase=Phase.MATURING)),
        ("no hot-idle alarm stands", replace(STANDS, phase=Phase.RETURNED)),
        (
            "somebody has taken the alarm on",
            replace(STANDS, phase=Phase.ACKNOWLEDGED, acknowledged=Acknowledgement("workshop lead", "link", at())),
        ),
        ("somebody may still answer", replace(STANDS, raised=at(NOW - 599))),
        ("somebody has shelved the alarm", replace(STANDS, shelf=Shelf(NOW + 100, "workshop lead", "cleaning"))),
        ("the alarm only follows from silent-hot", replace(STANDS, suppressed_by="silent-hot")),
    ],
)
def test_nothing_is_sent_while_a_person_may_have_it_in_hand(reason: str, standing: Standing) -> None:
    assert reason in tuple(cooling.reasons_not_to(ON, Memory(), forgotten(), standing, at()))
    assert cooling.look(ON, Memory(), forgotten(), standing, at())[1] is NOTHING


def test_it_is_off_unless_the_settings_ask_for_it() -> None:
    assert "the settings do not ask for it" in tuple(
        cooling.reasons_not_to(Limits(), Memory(), forgotten(), STANDS, at())
    )
    assert cooling.look(Limits(), Memory(), forgotten(), STANDS, at())[1] is NOTHING


def test_it_is_never_repeated_without_a_person() -> None:
    """Heat that comes back was set by somebody, or by a controller that does not obey: a second try helps neither."""
    spent = Memory(spent=True, job=1, times=1)
    reasons = tuple(cooling.reasons_not_to(ON, spent, forgotten(), STANDS, at()))
    assert reasons == ("it has been done before, and no person has been seen since",)
    assert cooling.look(ON, spent, forgotten(), STANDS, at())[1] is NOTHING
    assert acted(ON, cooling.acknowledged(spent), forgotten(), STANDS, at())[1].commands
    after_a_job = forgotten(job=replace(DONE, number=2))
    assert acted(ON, spent, after_a_job, STANDS, at())[1].commands


def test_a_watch_that_is_killed_between_storing_and_sending_lets_it_be() -> None:
    """Whether the line went out cannot be told any more; twice without a person would be one time too many."""
    memory, first = cooling.look(ON, Memory(), forgotten(), STANDS, at())
    assert [effect.kind for effect in first.effects if isinstance(effect, Noted)] == [cooling.DUE]
    again = forgotten(at=NOW + 60, sighted_since=NOW + 5)
    memory, after = cooling.look(ON, memory, again, STANDS, at(NOW + 60))
    assert (after.commands, memory.spent) == ((), True)
    assert [effect.kind for effect in after.effects if isinstance(effect, Noted)] == [cooling.LET_BE]
    much_later = forgotten(at=NOW + 9000, heard=NOW + 8999, sighted_since=NOW + 5)
    assert cooling.look(ON, memory, much_later, STANDS, at(NOW + 9000))[1] is NOTHING


def test_a_person_who_comes_between_storing_and_sending_is_heeded() -> None:
    memory, _ = cooling.look(ON, Memory(), forgotten(), STANDS, at())
    memory, deed = cooling.look(ON, memory, forgotten(chosen_at=NOW), STANDS, at(NOW + 1))
    assert (deed, memory.ready, memory.spent) == (NOTHING, None, False)


def test_what_the_port_did_not_take_is_due_still() -> None:
    unsent = cooling.unsent(sent())
    assert (unsent.spent, unsent.times, unsent.ready) == (False, 0, NOW)
    assert cooling.look(ON, unsent, forgotten(), STANDS, at())[1].commands == (NOZZLE_OFF,)


def sent() -> Memory:
    return acted(ON, Memory(), forgotten(), STANDS, at())[0]


def test_a_nozzle_that_falls_is_reported_as_cooled() -> None:
    falling = forgotten(at=NOW + 20, nozzle=Heater(now=195.0, target=0.0), hotend=Hotend.COOLING)
    memory, deed = cooling.look(ON, sent(), falling, STANDS, at(NOW + 20))
    told = [effect for effect in deed.effects if isinstance(effect, Tell)]
    assert [(tell.alarm, tell.priority) for tell in told] == [(COOLED, Priority.LOW)]
    assert (memory.sent_at, memory.spent) == (None, True)


@pytest.mark.parametrize(
    "nozzle",
    [Heater(now=205.0, target=205.0), Heater(now=190.0, target=205.0), Heater(now=204.0, target=0.0), Heater()],
    ids=["nothing happened", "target still on", "does not fall", "cannot be told"],
)
def test_a_nozzle_that_does_not_obey_is_reported_in_its_time(nozzle: Heater) -> None:
    before, early = cooling.look(ON, sent(), forgotten(at=NOW + 179, nozzle=nozzle), STANDS, at(NOW + 179))
    assert early is NOTHING
    memory, deed = cooling.look(ON, before, forgotten(at=NOW + 180, nozzle=nozzle), STANDS, at(NOW + 180))
    told = [effect for effect in deed.effects if isinstance(effect, Tell)]
    assert [(tell.alarm, tell.priority) for tell in told] == [(NOT_COOLED, Priority.HIGH)]
    assert (deed.commands, memory.sent_at, memory.spent) == ((), None, True)


def test_the_outcome_is_told_even_if_the_action_was_switched_off_meanwhile() -> None:
    falling = forgotten(at=NOW + 20, nozzle=Heater(now=190.0, target=0.0))
    assert cooling.look(Limits(), sent(), falling, STANDS, at(NOW + 20))[1].effects


@given(
    st.fixed_dictionaries(
        {},
        optional={
            "active": st.sampled_from([True, False, None]),
            "heating_up": st.sampled_from([True, False, None]),
            "execution": st.sampled_from(Execution),
            "hotend": st.sampled_from(Hotend),
            "link": st.sampled_from(Link),
            "source": st.sampled_from(Source),
            "waits_for_person": st.booleans(),
            "chosen_at": st.none() | st.just(NOW - 50),
            "heard": st.none() | st.floats(NOW - 100, NOW),
            "flow_at": st.none() | st.floats(NOW - 2000, NOW),
            "job": st.sampled_from([None, DONE, replace(DONE, ended=None), replace(DONE, ended=NOW - 10)]),
        },
    )
)
def test_whatever_is_seen_it_acts_exactly_when_no_reason_speaks_against_it(changes: dict[str, Any]) -> None:
    seen = forgotten(**changes)
    deed = acted(ON, Memory(), seen, STANDS, at())[1]
    assert bool(deed.commands) == (not tuple(cooling.reasons_not_to(ON, Memory(), seen, STANDS, at())))
    if deed.commands:
        assert seen.active is False
        assert seen.source is Source.SERIAL


def test_what_is_remembered_survives_a_restart() -> None:
    kept = TypeAdapter(Memory)
    assert kept.validate_json(kept.dump_json(sent())) == sent()
