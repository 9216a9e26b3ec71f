"""Durations, names and paths as people write them."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.settings.quantities import plain_name, seconds, whole_path


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("90 s", 90.0),
        ("5 min", 300.0),
        ("1 h 30 min", 5400.0),
        ("1h30min", 5400.0),
        (" 2 d ", 172800.0),
        ("0.5 h", 1800.0),
        ("5 MIN", 300.0),
        ("5 min.", 300.0),
        ("20", 20.0),
        ("2.5", 2.5),
    ],
)
def test_a_duration_is_read_as_people_write_it(written: str, meant: float) -> None:
    assert seconds(written) == meant


@pytest.mark.parametrize(
    "written",
    ["", "  ", "soon", "5 minutes", "-5 min", "1 h 30", "min 5", "5 m", "1,5 h", "1e3", "inf", "nan", "5 min !"],
)
def test_what_is_no_duration_is_refused_with_the_right_form(written: str) -> None:
    """A guess would silently turn five minutes into five seconds."""
    with pytest.raises(ValueError, match='Write it as "90 s", "5 min" or "1 h 30 min"'):
        seconds(written)


@given(st.integers(0, 9), st.integers(0, 99), st.integers(0, 99), st.integers(0, 999))
def test_the_parts_of_a_duration_add_up(days: int, hours: int, minutes: int, rest: int) -> None:
    assert seconds(f"{days} d {hours} h {minutes}min {rest} s") == ((days * 24 + hours) * 60 + minutes) * 60 + rest


@given(st.text(max_size=40))
def test_any_text_is_a_duration_or_is_refused(text: str) -> None:
    try:
        read = seconds(text)
    except ValueError:
        return
    assert isinstance(read, float)
    assert 0 <= read < float("inf")


@pytest.mark.parametrize("truth", [True, False])
def test_true_is_no_duration(truth: bool) -> None:
    with pytest.raises(ValueError, match="no duration"):
        seconds(truth)


def test_numbers_are_handed_on_to_be_judged() -> None:
    assert seconds(90) == 90
    assert seconds([]) == []


@pytest.mark.parametrize("name", ["doorway-1", "A", "0_x", "x" * 40])
def test_a_plain_name_is_taken(name: str) -> None:
    assert plain_name(name) == name


@pytest.mark.parametrize("name", ["", "-x", "_x", "a b", "a/b", "a.b", "dö", "x" * 41, "a\n"])
def test_a_name_that_fits_into_no_topic_or_file_name_is_refused(name: str) -> None:
    with pytest.raises(ValueError, match="a name has 1 to 40 letters"):
        plain_name(name)


def test_a_path_is_whole_or_begins_at_home(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", "/home/watch")
    assert whole_path(Path("/var/lib/x")) == Path("/var/lib/x")
    assert whole_path(Path("~/x")) == Path("/home/watch/x")
    with pytest.raises(ValueError, match="Write it from /"):
        whole_path(Path("here/x"))
