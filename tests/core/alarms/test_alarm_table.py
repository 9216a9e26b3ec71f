"""The alarm table: every row complete, no row that hides an urgent one, no rhythm that drowns a teacher."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from watchdog.core.alarms.alarm import REMINDING, Alarm, problems
from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Priority

NAMES = {
    "hot-idle", "job-not-started", "job-stalled", "job-late", "silent-hot", "link-lost", "silent", "controller-restarted",
    "controller-halted", "heat-runaway", "heating-stalled", "heat-not-holding", "temperature-implausible",
    "waiting-for-person", "card-fault", "watch-impaired", "extruding-in-place", "filament-out", "link-errors",
    "host-suspended", "feed-slipping", "flow-lost", "spool-short", "unsupervised-hot", "outlasts-supervision", "sensor-limit",
}  # fmt: skip

PRIORITIES = {
    "urgent": {"silent-hot", "controller-halted", "heat-runaway", "temperature-implausible", "extruding-in-place"},
    "low": {"job-late", "silent", "link-errors", "spool-short", "outlasts-supervision"},
}


def test_the_table_holds_every_alarm_that_the_watch_can_raise() -> None:
    assert set(TABLE) == NAMES


def test_every_row_is_complete_and_no_urgent_alarm_is_ever_suppressed() -> None:
    assert problems(TABLE) == ()


def test_priorities_are_the_rationalised_ones() -> None:
    """A wrong priority wakes the wrong people, or nobody."""
    for name, row in TABLE.items():
        expected = next((priority for priority, names in PRIORITIES.items() if name in names), "high")
        assert row.priority == expected, name
        assert row.latched == (expected == "urgent"), name


@pytest.mark.parametrize("name", ["heat-runaway", "silent-hot"])
def test_where_flame_is_possible_the_first_action_says_whom_to_call(name: str) -> None:
    action = TABLE[name].action.lower()
    assert "evacuate" in action
    assert "call fire service" in action
    assert "smoke or fire" in action


def test_every_alarm_that_can_be_urgent_says_what_to_do_in_smoke_or_fire() -> None:
    for name, row in TABLE.items():
        if row.priority is Priority.URGENT or row.urgent_within is not None:
            assert "In smoke or fire: evacuate and call the fire service." in row.then, name


def test_a_lifted_alarm_leaves_less_time_to_respond() -> None:
    card = TABLE["card-fault"]
    assert card.within(Priority.HIGH) == 600
    assert card.within(Priority.URGENT) == 120
    assert TABLE["silent-hot"].within(Priority.URGENT) == 120
    assert TABLE["job-late"].within(Priority.URGENT) == 1800


def test_urgent_alarms_come_first_and_the_table_cannot_be_changed() -> None:
    with pytest.raises(TypeError):
        TABLE["silent"] = TABLE["silent-hot"]  # type: ignore[index]
    assert [row.name for row in TABLE.values()] == list(TABLE)


@pytest.mark.parametrize(
    ("priority", "most"), [(Priority.URGENT, 12), (Priority.HIGH, 6), (Priority.LOW, 2)], ids=["urgent", "high", "low"]
)
def test_an_alarm_that_nobody_answers_stays_within_what_a_person_can_bear(priority: Priority, most: int) -> None:
    """At most 6 an hour for a high alarm; without a bound a reminder becomes noise that people mute."""
    rhythm = REMINDING[priority]
    times, gap = [0.0], rhythm.first
    while times[-1] < 7 * 86400:
        times.append(times[-1] + gap)
        gap = min(gap * rhythm.growth, rhythm.longest)
    busiest = max(sum(start <= time <= start + 3600 for time in times) for start in times)
    assert busiest <= most
    assert times[-1] - times[-2] <= 86400, "an alarm that stands is said again at least daily"


def broken(name: str, changes: dict[str, Any]) -> Mapping[str, Alarm]:
    return {**TABLE, name: replace(TABLE[name], **changes)}


@pytest.mark.parametrize(
    ("name", "changes", "expected"),
    [
        ("silent", {"action": " "}, "silent: action is blank"),
        ("silent", {"cause": ""}, "silent: cause is blank"),
        ("silent", {"action": "Watch it"}, "silent: the action does not start with a verb that changes something"),
        ("silent", {"action": "check cable"}, "silent: the action does not start with a verb that changes something"),
        ("silent", {"action": "Check " + "cable " * 10}, "silent: the action is longer than 60 characters"),
        ("silent", {"what": "x" * 46}, "silent: what is longer than 45 characters"),
        ("silent", {"then": "Then it is safe to touch."}, "silent: then says safe"),
        ("silent", {"then": "Hurry."}, "silent: then says hurry"),
        ("silent", {"name": "quiet"}, "silent: its row is named quiet"),
        ("silent", {"off_delay": -1.0}, "silent: a delay is below 0"),
        ("silent", {"remind_after": 0.0}, "silent: a reminder comes without a pause"),
        ("silent", {"re_alarm_after": 0.0}, "silent: a reminder comes without a pause"),
        ("hot-idle", {"on_delay": 301.0}, "hot-idle: the on-delay eats more than half of the time to respond"),
        ("heat-runaway", {"latched": False}, "heat-runaway: urgent alarms latch"),
        ("job-late", {"suppresses": ("nonsense",)}, "job-late: suppresses nonsense, which is no alarm"),
        ("job-late", {"covers": ("nonsense",)}, "job-late: covers nonsense, which is no alarm"),
        (
            "waiting-for-person",
            {"covers": ("silent-hot",)},
            "waiting-for-person: covers silent-hot, which must stand below it in the table",
        ),
        (
            "job-late",
            {"suppresses": ("hot-idle",)},
            "job-late: suppresses hot-idle, which must stand below it in the table",
        ),
        (
            "job-late",
            {"suppresses": ("job-late",)},
            "job-late: suppresses job-late, which must stand below it in the table",
        ),
        (
            "heat-runaway",
            {"suppresses": ("controller-halted",)},
            "heat-runaway: suppresses controller-halted, which is urgent",
        ),
        (
            "silent-hot",
            {"grows_from": ("silent-hot",)},
            "silent-hot: grows from silent-hot, which is no other alarm",
        ),
        ("job-late", {"grows_from": ("silent",)}, "job-late: grows, but is never urgent"),
    ],
)
def test_an_unfit_row_is_named_with_its_fault(name: str, changes: dict[str, Any], expected: str) -> None:
    assert problems(broken(name, changes)) == (expected,)
