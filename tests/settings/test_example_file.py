"""The commented example: valid as it stands, and true in what it says."""

import json
import re
import subprocess
import sys
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from watchdog.core.alarms.table import TABLE
from watchdog.core.effects import Priority
from watchdog.core.materials import MATERIALS
from watchdog.jobfile.machine_limits import MachineLimits
from watchdog.settings import load
from watchdog.settings.calendars import Calendar
from watchdog.settings.example import BEGIN, END, limits_part, rewritten
from watchdog.settings.fill import people_of, watch_of
from watchdog.settings.jobs import Hours, Motion
from watchdog.settings.limits import by_alarm
from watchdog.settings.mail_answers import MailAnswersTable
from watchdog.settings.model import AlarmChange, Delivery, LogLayout, Machine, Person, Places, Route, Settings
from watchdog.settings.mqtt import MqttTable
from watchdog.settings.network import NetworkTable
from watchdog.settings.page import PageTable
from watchdog.settings.review import ReviewTable, Upkeep, items_of
from watchdog.settings.sensors import Sensor
from watchdog.settings.switch import HeartbeatTable

EXAMPLE = Path(__file__).parents[2] / "config" / "emberward.toml"
TEXT = EXAMPLE.read_text("utf-8")
REMAKE = "python -m watchdog.settings.example config/emberward.toml"
_SETTING = re.compile(r'#?([a-z_]+|"[^"]+") = |#?\[[a-z0-9_.-]+\]$')


def switched_on(text: str) -> str:
    """`text` with its commented settings in force."""
    lines = [line.removeprefix("#") if _SETTING.match(line) else line for line in text.splitlines()]
    return "\n".join(lines)


def test_the_example_is_valid_as_it_stands() -> None:
    settings = load(EXAMPLE)
    assert list(settings.machines) == ["doorway-1"]
    assert {person.name: person.priorities for person in people_of(settings)} == {
        "workshop-lead": frozenset(Priority),
        "duty-warden": {Priority.URGENT, Priority.HIGH},
        "caretaker": {Priority.URGENT},
    }
    assert all("example.org" in route.url for person in people_of(settings) for route in person.routes)


def test_as_it_stands_every_limit_and_delay_is_the_default() -> None:
    """Who copies the example gets what the manual describes."""
    settings = load(EXAMPLE)
    watched = watch_of("doorway-1", settings.machines["doorway-1"], settings)
    assert watched.timetable is not None  # the example's hours are in force
    assert replace(watched, timetable=None) == watch_of("doorway-1", Machine(), Settings())
    assert settings.delivery == Delivery()
    assert settings.places == Places()


def test_every_limit_is_listed_with_its_default_its_unit_and_its_reason() -> None:
    """Read from the file line by line, not from what would be written there now."""
    part = TEXT[TEXT.index(BEGIN) : TEXT.index(END)]
    listed: dict[str, dict[str, tuple[float, str, str]]] = {}
    table = ""
    for line in part.splitlines():
        if heading := re.match(r"#\[limits\.(.+)\]$", line):
            table = heading[1]
        elif entry := re.match(r"#(\w+) = (\S+) +# ([^:]+): (.+)$", line):
            name, default, unit, why = entry.groups()
            listed.setdefault(table, {})[name] = (float(default), unit.replace("a plain number", "1"), why)
    declared = {
        alarm: {limit.name: (limit.default, limit.unit, limit.why) for limit in limits}
        for alarm, limits in by_alarm().items()
        if limits
    }
    assert listed == declared, f"make it anew: {REMAKE}"
    for alarm in by_alarm():
        assert f"\n# {alarm} ({TABLE[alarm].priority}): {TABLE[alarm].what}.\n" in part


def test_the_part_of_the_limits_is_the_one_that_would_be_made_now() -> None:
    assert limits_part() in TEXT, f"make it anew: {REMAKE}"


def test_the_part_of_the_limits_is_made_anew_in_place(tmp_path: Path) -> None:
    file = tmp_path / "emberward.toml"
    file.write_text(f"before = 1\n{BEGIN}\n# old\n{END}\n# after\n", "utf-8")
    subprocess.run([sys.executable, "-m", "watchdog.settings.example", str(file)], check=True)
    assert file.read_text("utf-8") == f"before = 1\n{limits_part()}\n# after\n"
    with pytest.raises(ValueError, match="no two lines"):
        rewritten("nothing of the kind")


def test_everything_that_is_commented_out_is_valid_when_it_is_switched_on(mistakes: Callable[[str], list[str]]) -> None:
    """Who takes a # away must not be told that the example is wrong: but for what cannot be at the same time."""
    told = mistakes(switched_on(TEXT))
    assert [line.partition(": ")[0] for line in told] == ["routes.desk-mail", "network.root_certificate"]
    assert "there are url and url_file and credential" in told[0]
    assert "No such file" in told[1]


def test_a_commented_default_is_the_default() -> None:
    """The sentence 'they show the default' holds for every line outside the examples that need a value."""
    shown = tomllib.loads(switched_on(TEXT))
    doorway = Machine.model_validate(
        {
            name: value
            for name, value in shown["machines"]["doorway-1"].items()
            if name not in ("port", "expected", "limits", "motion")
        }
    )
    told = {"resets_on_open": False, "record": True, "melts_at": MATERIALS["PLA"].melts_at}  # where none is the default
    assert doorway == Machine.model_validate(told)
    assert Delivery.model_validate(shown["delivery"]) == Delivery()
    motion = Motion.model_validate(shown["machines"]["doorway-1"]["motion"])
    usual = motion.model_dump(exclude={"corners", "commands_per_second", "room"})
    assert usual == {name: getattr(MachineLimits(), name) for name in usual}
    assert ReviewTable.model_validate(shown["review"]) == ReviewTable(sheet_price=6.5)  # none is the default
    upkeep = {name: Upkeep.model_validate(told) for name, told in shown["upkeep"].items() if name != "feed-wheel"}
    assert items_of(upkeep, "doorway-1") == items_of({}, "doorway-1")
    lead = shown["people"]["workshop-lead"]
    assert Person.model_validate(lead) == Person(routes=tuple(lead["routes"]))


@pytest.mark.parametrize(
    ("model", "table"),
    [
        (Settings, []),
        (Machine, ["machines"]),
        (LogLayout, ["machines", "loft-1", "layout"]),
        (Motion, ["machines", "doorway-1", "motion"]),
        (Hours, ["hours"]),
        (Route, ["routes"]),
        (Calendar, ["calendars"]),
        (Person, ["people"]),
        (Sensor, ["sensors"]),
        (AlarmChange, ["alarms"]),
        (Delivery, ["delivery"]),
        (NetworkTable, ["network"]),
        (HeartbeatTable, ["heartbeat"]),
        (PageTable, ["page"]),
        (MailAnswersTable, ["mail_answers"]),
        (MqttTable, ["mqtt"]),
        (ReviewTable, ["review"]),
        (Upkeep, ["upkeep"]),
        (Places, ["places"]),
    ],
)
def test_the_example_names_every_setting_that_there_is(model: Any, table: list[str]) -> None:
    """What the example does not name, nobody finds."""
    here: Any = tomllib.loads(switched_on(TEXT))
    for name in table:
        here = here[name]
    tables = (
        here.values()
        if table in (["machines"], ["routes"], ["people"], ["alarms"], ["calendars"], ["sensors"], ["upkeep"])
        else [here]
    )
    named = {name for one in tables for name in one}
    left_out = {"fold"}  # one hour a year; told in the code
    if model in (Calendar, HeartbeatTable):
        left_out = {"url_file", "credential"}  # told in words: a file that is not there would be a mistake
        before = "---- calendars" if model is Calendar else "# A dead watch tells nobody."
        assert all(f"\n#   {name} " in TEXT[TEXT.index(before) :] for name in left_out)
    if model is MqttTable:
        left_out = {"password_file", "credential"}  # the same
        assert all(f"\n#   {name} " in TEXT[TEXT.index("---- MQTT") :] for name in left_out)
    if model is MailAnswersTable:
        left_out = {"password_file", "credential"}
        assert all(f"\n#   {name} " in TEXT[TEXT.index("With this table an alarm") :] for name in left_out)
    assert set(model.model_fields) - named <= left_out


def test_the_environment_lines_of_the_example_work(monkeypatch: pytest.MonkeyPatch) -> None:
    found = dict(re.findall(r"(EMBERWARD_\w+)=('[^']*'|\"[^\"]*\"|\S+?)[.,]?(?=\s|$)", TEXT))
    assert set(found) == {"EMBERWARD_ZONE", "EMBERWARD_DELIVERY__TIME_LIMIT", "EMBERWARD_MACHINES"}
    for name, value in found.items():
        monkeypatch.setenv(name, value.strip("'\""))
    settings = load(EXAMPLE)
    assert settings.delivery.time_limit == 20
    assert settings.machines["doorway-1"].baud == 250000


def test_the_delivery_library_takes_every_placeholder() -> None:
    """In a process of its own: the watch never loads that library."""
    code = "import apprise, json, sys; print([apprise.Apprise().add(url) for url in json.load(sys.stdin)])"
    urls = [route["url"] for route in tomllib.loads(TEXT)["routes"].values()]
    done = subprocess.run(
        [sys.executable, "-c", code], input=json.dumps(urls), capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == str([True] * 4)


def test_the_example_speaks_of_what_a_school_must_know() -> None:
    for words in (
        "chmod 600",
        "LoadCredential=",
        "url_file",
        "pupils' names",
        "by their role",
        "no safety device",
        "test-alert",
    ):
        assert words in TEXT
    assert "safe to" not in TEXT
    assert max(len(line) for line in TEXT[: TEXT.index(BEGIN)].splitlines()) <= 130
