"""`incidents` and `show`: the log, read by people and by scripts."""

import json
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from watchdog.core.effects import (
    AlarmChanged,
    Effect,
    JobChanged,
    Noted,
    Priority,
    StateChanged,
    Tell,
    TellKind,
    Transition,
)
from watchdog.core.moment import Moment
from watchdog.core.orders import Order
from watchdog.core.traffic import Direction
from watchdog.record.batch import Batch
from watchdog.record.parcels import Attempt, Outcome
from watchdog.record.store import Record
from watchdog.record.surroundings import Excerpt, RawLine

Command = Callable[..., subprocess.CompletedProcess[str]]
BASE = Moment(5_000.0, 1_772_442_000.0)  # 2026-03-02T09:00:00Z


def at(seconds: float) -> Moment:
    return Moment(BASE.elapsed + seconds, BASE.stamp + seconds)


def change(
    seconds: float, name: str, transition: Transition, priority: Priority, by: str | None = None
) -> AlarmChanged:
    how = "command" if by else None
    return AlarmChanged(at(seconds), name, 1, transition, priority, {"nozzle": 205.0}, by, how)


@pytest.fixture
def house(config: Callable[[str], Path], tmp_path: Path) -> Path:
    """Settings of a house in whose record a hot nozzle was taken on, and a runaway stands that nobody has seen."""
    (tmp_path / "state").mkdir()
    with Record.open(tmp_path / "state" / "incidents.db", at(-1)) as record:

        def write(machine: str, *effects: Effect) -> None:
            for effect in effects:
                told = (Order(effect, "workshop-lead"),) if isinstance(effect, Tell) else ()
                record.commit(Batch(machine, effect.at, (effect,), told))

        write(
            "doorway-1",
            JobChanged(at(-90), "started", 1, "R-014.GCO", 812_345, "card", 0.0),
            JobChanged(at(-10), "completed", 1, "R-014.GCO", 812_345, "card", 80.0),
            StateChanged(at(-10), "execution", "building", "complete"),
            change(0, "hot-idle", Transition.RAISED, Priority.HIGH),
            Tell(at(0), TellKind.ALARM, "hot-idle", 1, Priority.HIGH, at(0), 1, {"nozzle": 205.0}, 300.0),
        )
        (parcel,) = record.due(at(0).stamp)
        record.log_attempts(
            [
                Attempt(parcel.id, "lead-phone", at(1).stamp, Outcome.FAILED, "no answer in 30 s"),
                Attempt(parcel.id, "lead-sms", at(2).stamp, Outcome.DELIVERED, ""),
            ],
            {},
            [parcel.id],
        )
        write(
            "doorway-1",
            change(40, "hot-idle", Transition.ACKNOWLEDGED, Priority.HIGH, "workshop lead"),
            Noted(at(50), "filament", {"fed_mm": 12}),
            change(600, "hot-idle", Transition.RETURNED, Priority.HIGH),
            change(610, "hot-idle", Transition.CLEARED, Priority.HIGH),
        )
        write("loft-1", change(5_000, "heat-runaway", Transition.RAISED, Priority.URGENT))
    return config('zone = "Europe/Lisbon"\n')


def test_incidents_are_listed_newest_first_in_words(emberward: Command, house: Path) -> None:
    done = emberward("incidents", "--config", house)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines() == [
        "    2  2026-03-02 10:23  ▲ URGENT  loft-1  heat-runaway  stands",
        "    1  2026-03-02 09:00  ■ HIGH    doorway-1  hot-idle  lasted 10 min, taken on by workshop lead",
    ]


def test_incidents_are_narrowed_down(emberward: Command, house: Path) -> None:
    def found(*words: str) -> list[int]:
        done = emberward("incidents", "--json", *words, "--config", house)
        assert done.returncode == 0, done.stderr
        return [json.loads(line)["id"] for line in done.stdout.splitlines()]

    assert found() == [2, 1]
    assert found("--machine", "doorway-1") == [1]
    assert found("--alarm", "heat-runaway") == [2]
    assert found("--since", "2026-03-02T10:00") == [2]
    assert found("--until", "2026-03-02T10:00+00:00") == [1]
    assert found("--since", "2026-03-03") == [2], "it still stands"
    assert found("--until", "2026-03-02") == []
    assert found("--limit", "1") == [2]
    assert emberward("incidents", "--until", "2026-03-02", "--config", house).stdout == "no incidents\n"
    wrong = emberward("incidents", "--since", "yesterday", "--config", house)
    assert (wrong.returncode, wrong.stdout) == (2, "")
    assert "'yesterday' is no date. Write 2026-03-02" in wrong.stderr


def test_a_script_reads_incidents_as_json_with_utc_times(emberward: Command, house: Path) -> None:
    done = emberward("incidents", "--json", "--config", house)
    newest, oldest = (json.loads(line) for line in done.stdout.splitlines())
    assert {key: oldest[key] for key in ("id", "machine", "opened", "alarms", "priority", "acknowledged_by")} == {
        "id": 1,
        "machine": "doorway-1",
        "opened": "2026-03-02T09:00:00.000Z",
        "alarms": ["hot-idle"],
        "priority": "high",
        "acknowledged_by": ["workshop lead"],
    }
    assert (newest["quiet"], newest["standing"]) == (None, 1)


def test_one_incident_is_shown_from_cause_to_end(emberward: Command, house: Path) -> None:
    done = emberward("show", "1", "--config", house)
    assert (done.returncode, done.stderr) == (0, "")
    text = done.stdout
    assert text.startswith("incident 1  doorway-1  2026-03-02 09:00 (Europe/Lisbon)\n")
    in_order = [
        "hot-idle:", "first action:", "raised", "acknowledged by workshop lead (command)", "returned", "cleared",
        "told", "workshop-lead: alarm hot-idle, taken by a server", "lead-phone failed no answer in 30 s",
        "what happened", "job started", "job completed", "execution: building → complete", "filament",
    ]  # fmt: skip
    places = [text.index(words) for words in in_order if words != "execution: building → complete"]
    assert places == sorted(places)
    assert "execution: building → complete" in text


def test_an_incident_is_shown_by_its_standing_alarm_and_as_json(emberward: Command, house: Path) -> None:
    assert emberward("show", "loft-1/heat-runaway", "--config", house).stdout.startswith("incident 2  loft-1")
    shown = json.loads(emberward("show", "1", "--json", "--config", house).stdout)
    (alarm,) = shown["alarms"]
    assert (alarm["alarm"], alarm["raised"], alarm["cleared"]) == (
        "hot-idle",
        "2026-03-02T09:00:00.000Z",
        "2026-03-02T09:10:10.000Z",
    )
    (message,) = shown["messages"]
    assert [attempt["outcome"] for attempt in message["attempts"]] == ["failed", "delivered"]
    assert message["delivered"] == "2026-03-02T09:00:02.000Z"


@pytest.mark.parametrize("name", ["7", "doorway-1/silent", "nonsense", "²", "-", "9" * 30, "9" * 5000, ""])
def test_an_incident_that_there_is_not_is_told(name: str, emberward: Command, house: Path) -> None:
    done = emberward("show", "--config", house, "--", name)
    assert (done.returncode, done.stdout) == (1, "")
    assert "there is no incident" in done.stderr
    assert "emberward incidents" in done.stderr


def test_an_incident_that_is_over_needs_no_acknowledgement(emberward: Command, house: Path) -> None:
    done = emberward("acknowledge", "1", "--config", house)
    assert (done.returncode, done.stderr) == (1, "incident 1 is over: nothing of it stands.\n")
    done = emberward("acknowledge", "99", "--config", house)
    assert done.returncode == 1
    assert "there is no incident 99" in done.stderr
    done = emberward("acknowledge", "2", "--config", house)
    assert done.returncode == 1
    assert "no service answers" in done.stderr


def test_the_last_lines_of_the_traffic_are_shown(emberward: Command, house: Path, tmp_path: Path) -> None:
    with Record.open(tmp_path / "state" / "incidents.db", at(5_001)) as record:
        lines = [RawLine(n, at(5_001 + n), Direction.RECEIVED, f"ok T:{200 + n}.0 /0.0") for n in range(6)]
        record.commit(Batch("loft-1", at(5_010), surroundings=Excerpt(lines=tuple(lines))))
    shown = emberward("show", "2", "--lines", "2", "--config", house).stdout
    assert "traffic  (4 earlier lines: --lines)" in shown
    assert shown.splitlines()[-2:] == ["  10:23:25 < ok T:204.0 /0.0", "  10:23:26 < ok T:205.0 /0.0"]
    assert "traffic" not in emberward("show", "2", "--lines", "0", "--config", house).stdout


def test_a_record_that_is_none_is_told(emberward: Command, config: Callable[[str], Path], tmp_path: Path) -> None:
    (tmp_path / "state").mkdir()
    (tmp_path / "state" / "incidents.db").write_bytes(b"this is no record, " * 400)
    done = emberward("incidents", "--config", config(""))
    assert (done.returncode, done.stdout) == (1, "")
    assert f"{tmp_path}/state/incidents.db" in done.stderr
    assert "Traceback" not in done.stderr
