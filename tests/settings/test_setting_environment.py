"""The environment wins over the file, and its mistakes are told as its own."""

from collections.abc import Callable
from pathlib import Path

import pytest

from watchdog.settings import BadSettings, load, load_surroundings

Written = Callable[[str], Path]
FILE = """
zone = "America/Halifax"
[machines.doorway-1]
port = "/dev/a"
poll = "3 s"
[delivery]
time_limit = "20 s"
first_pause = 15
"""


def test_without_a_file_the_environment_alone_counts(monkeypatch: pytest.MonkeyPatch) -> None:
    assert load(None).zone is None
    monkeypatch.setenv("EMBERWARD_ZONE", "Europe/Lisbon")
    assert str(load(None).zone) == "Europe/Lisbon"


def test_the_environment_wins_value_by_value(written: Written, monkeypatch: pytest.MonkeyPatch) -> None:
    """A variable for one value must not throw away what the file says beside it."""
    monkeypatch.setenv("EMBERWARD_ZONE", "Europe/Lisbon")
    monkeypatch.setenv("EMBERWARD_DELIVERY__TIME_LIMIT", "12 s")
    monkeypatch.setenv("EMBERWARD_DELIVERY__LONGEST_PAUSE", "100")
    monkeypatch.setenv("emberward_alarms__silent__spoken", "false")
    settings = load(written(FILE))
    assert str(settings.zone) == "Europe/Lisbon"
    assert settings.delivery.model_dump() == {
        "time_limit": 12.0,
        "give_up_after": 300.0,
        "first_pause": 15.0,
        "longest_pause": 100.0,
    }
    assert settings.alarms["silent"].spoken is False


def test_a_table_given_as_json_is_laid_over_the_file(written: Written, monkeypatch: pytest.MonkeyPatch) -> None:
    """The only way to a machine whose name holds a dash: shells refuse that in the name of a variable."""
    monkeypatch.setenv("EMBERWARD_MACHINES", '{"doorway-1": {"baud": 250000}, "loft-1": {"port": "/dev/b"}}')
    monkeypatch.setenv("EMBERWARD_LIMITS", '{"hot-idle": {"dose": 12}}')
    settings = load(written(FILE))
    doorway = settings.machines["doorway-1"]
    assert (doorway.port, doorway.poll, doorway.baud) == ("/dev/a", 3.0, 250000)
    assert settings.machines["loft-1"].port == "/dev/b"
    assert settings.limits is not None
    assert settings.limits.model_dump(exclude_none=True) == {"hot_idle": {"dose": 12.0}}


def test_a_machine_is_reached_by_a_variable_of_its_own(written: Written, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("EMBERWARD_MACHINES__ATTIC__BAUD", "250000")
    monkeypatch.setenv("EMBERWARD_MACHINES__ATTIC__PORT", "/dev/c")
    attic = load(written(FILE)).machines["attic"]
    assert (attic.baud, attic.port) == (250000, "/dev/c")


@pytest.mark.parametrize(
    ("name", "value", "told"),
    [
        ("EMBERWARD_ZONE", "Lisbon", "environment: EMBERWARD_ZONE: 'Lisbon' is no time zone"),
        ("EMBERWARD_DELIVERY__TIME_LIMIT", "soon", "environment: EMBERWARD_DELIVERY__TIME_LIMIT: 'soon' is no duration"),
        ("EMBERWARD_DELIVERY__TIME_LIMIT", "900", "environment: EMBERWARD_DELIVERY__TIME_LIMIT: 900.0 is out of bounds"),
        ("EMBERWARD_DELIVERY__TIMELIMIT", "9", "environment: EMBERWARD_DELIVERY__TIMELIMIT: no such setting. Did you mean"),
        ("EMBERWARD_ZOEN", "x", "environment: EMBERWARD_ZOEN: no such setting. Did you mean EMBERWARD_ZONE?"),
        ("EMBERWARD_MACHINES", '{"doorway-1": {"baud": 1}}', "environment: EMBERWARD_MACHINES: 1 is out of bounds"),
        ("EMBERWARD_MACHINES", '{"doorway-1', "environment: EMBERWARD_MACHINES: is no valid JSON"),
        ("EMBERWARD_DELIVERY", "soon", "environment: EMBERWARD_DELIVERY: is no valid JSON"),
    ],
)  # fmt: skip
def test_a_mistake_in_the_environment_names_the_variable(
    name: str, value: str, told: str, written: Written, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Else the operator searches the file for something that stands in the service's unit."""
    monkeypatch.setenv(name, value)
    with pytest.raises(BadSettings) as bad:
        load(written(FILE))
    assert [str(problem)[: len(told)] for problem in bad.value.problems] == [told]


def test_mistakes_of_both_are_told_together(written: Written, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("EMBERWARD_DELIVERY__TIME_LIMIT", "soon")
    monkeypatch.setenv("EMBERWARD_ROUTES", '{"push": {"url": "json://h/t0ken", "breif"')
    file = written(FILE + "give_up_after = true\n")
    with pytest.raises(BadSettings) as bad:
        load(file)
    assert "t0ken" not in str(bad.value)
    assert [problem.place for problem in bad.value.problems] == [
        "environment: EMBERWARD_ROUTES",
        f"{file}: delivery.give_up_after",
    ]


def test_zone_and_places_can_be_read_beside_any_mistake(written: Written) -> None:
    """Somebody edits the file in a lesson; the alarm that is raised meanwhile can still be acknowledged."""
    file = written(
        'zone = "Europe/Lisbon"\nplaces.state = "/srv/x"\nmachins = 3\n[routes.push]\nurl_file = "/no/such"\n'
    )
    with pytest.raises(BadSettings):
        load(file)
    surroundings = load_surroundings(file)
    assert (str(surroundings.zone), str(surroundings.places.state)) == ("Europe/Lisbon", "/srv/x")
    with pytest.raises(BadSettings, match="from /"):
        load_surroundings(written('places.state = "x"\nmachins = 3\n'))
